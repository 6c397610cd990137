import type { z } from 'zod';
import type { Role } from '../access/schema.js';
import type { Markup } from '../http/html.js';
import type { Asking } from '../http/route.js';
import type { Plant } from '../plant.js';
import type { Format } from './format.js';
import type { ScreenName, Words } from './words/words.js';

/** Who looks, when, in which words, and what a question may lean on. */
export interface Viewing extends Asking {
  words: Words;
  format: Format;
}

/** What a screen shows inside the frame. */
export interface View {
  /** Title of the page, and its heading. */
  title: string;
  main: Markup;
  /** Plain data for the screen's script, which reads it with `pageData()`. */
  data?: object;
  /** Whether the page draws charts: loads the charting library before the script. */
  charts?: boolean;
  /** A screen that uses all the width there is. */
  wide?: boolean;
}

type ObjectSchema = z.ZodObject;
type Out<S> = S extends z.ZodType ? z.output<S> : undefined;

/** One page of a screen, whatever its types were. */
export interface Screen {
  /** Names its words, its script and its stylesheet: scripts/<name>.js, style/<name>.css. */
  name: ScreenName;
  /** A path with no `{parameter}` stands in the navigation. */
  path: `/${string}`;
  /** The roles that work here; whoever has none of them is refused. */
  roles: readonly Role[] | 'any';
  /** Keys of these roles begin here when they come to `/`. */
  startFor: readonly Role[];
  params?: ObjectSchema;
  query?: ObjectSchema;
  show: (plant: Plant, input: never, viewing: Viewing) => View | Promise<View>;
}

interface Definition<P, Q> extends Omit<Screen, 'show' | 'params' | 'query'> {
  params?: P;
  query?: Q;
  show: (
    plant: Plant,
    input: { params: Out<P>; query: Out<Q> },
    viewing: Viewing,
  ) => View | Promise<View>;
}

/** A GET of a page for people who are signed in. */
export function screen<
  P extends ObjectSchema | undefined = undefined,
  Q extends ObjectSchema | undefined = undefined,
>(definition: Definition<P, Q>): Screen {
  return definition as Screen;
}

/** Whether a key of these roles may open a screen. */
export function isOpenTo(screen: Screen, roles: readonly Role[]): boolean {
  return screen.roles === 'any' || screen.roles.some((role) => roles.includes(role));
}
