import { z } from 'zod';
import type { Role } from '../access/schema.js';
import type { Actor, Command } from '../command.js';
import type { Plant } from '../plant.js';
import type { Problem, ProblemSlug } from '../problems.js';
import type { Settings } from '../settings.js';
import type { Page } from './cursor.js';

type ObjectSchema = z.ZodObject;
type Out<S> = S extends z.ZodType ? z.output<S> : undefined;

/** What a command answers: made (201, with the address of what was made) or done (200). */
export interface Answer<T> {
  body: T;
  location?: string;
}

/** Who asks, and when. */
export interface Asking {
  actor: Actor;
  now: number;
  settings: Settings;
  /** Puts a named question to a worker thread; see src/reader.ts. */
  inWorker: <T>(question: string, parameters: unknown) => Promise<T>;
}

interface Described {
  path: `/${string}`;
  tag: string;
  summary: string;
  description?: string;
  problems?: readonly ProblemSlug[];
}

/** A route as the server mounts it and the document describes it, whatever its types were. */
export interface Route extends Described {
  method: 'get' | 'post' | 'put';
  kind: 'question' | 'table' | 'page' | 'inquiry' | 'command' | 'import';
  roles: readonly Role[] | 'any';
  params?: ObjectSchema;
  query?: ObjectSchema;
  body?: z.ZodType;
  bodyLimit: number;
  answer: z.ZodType;
  status: 200 | 201;
  needsIfMatch: boolean;
  columns?: readonly string[];
  /** Media types of a page, the usual one first. */
  media?: readonly string[];
  version?: (body: unknown) => number | undefined;
  stored?: (body: unknown) => unknown;
  joins?: boolean;
  prepare?: (input: never, asking: Asking, plant: Plant) => Promise<unknown>;
  ask?: (plant: Plant, input: never, asking: Asking) => unknown;
  act?: (command: Command, input: never) => Answer<unknown> | Problem;
}

const COMMAND_BODY_LIMIT = 64 * 1024;

interface Question<P, Q, A extends z.ZodType> extends Described {
  roles?: readonly Role[];
  params?: P;
  query?: Q;
  answer: A;
  /** The version for the ETag, where the answer has one. */
  version?: (body: z.input<A>) => number;
  ask: (
    plant: Plant,
    input: { params: Out<P>; query: Out<Q> },
    asking: Asking,
  ) => z.input<A> | Promise<z.input<A>>;
}

/** A GET that answers one document. */
export function question<
  A extends z.ZodType,
  P extends ObjectSchema | undefined = undefined,
  Q extends ObjectSchema | undefined = undefined,
>(definition: Question<P, Q, A>): Route {
  return {
    kind: 'question',
    method: 'get',
    status: 200,
    bodyLimit: 0,
    needsIfMatch: false,
    ...definition,
    roles: definition.roles ?? 'any',
  } as Route;
}

interface Table<P, Q, I extends ObjectSchema> extends Described {
  roles?: readonly Role[];
  params?: P;
  /** Includes `pageQuery` where the table is paged. */
  query?: Q;
  item: I;
  answer: z.ZodType;
  ask: (
    plant: Plant,
    input: { params: Out<P>; query: Out<Q> },
    asking: Asking,
  ) => Page<z.input<I>> | Promise<Page<z.input<I>>>;
}

/** A GET that answers a page of rows, as JSON or as CSV with the item's members as columns. */
export function table<
  I extends ObjectSchema,
  P extends ObjectSchema | undefined = undefined,
  Q extends ObjectSchema | undefined = undefined,
>(definition: Table<P, Q, I>): Route {
  return {
    kind: 'table',
    method: 'get',
    status: 200,
    bodyLimit: 0,
    needsIfMatch: false,
    columns: Object.keys(definition.item.shape),
    ...definition,
    roles: definition.roles ?? 'any',
  } as Route;
}

/** A document as it is sent: text or bytes, with headers of its own. */
export interface Sheet {
  contentType: string;
  body: string | Buffer;
  headers: Readonly<Record<string, string>>;
}

interface PageDefinition<Q, M extends string> extends Described {
  query?: Q;
  media: readonly [M, ...M[]];
  ask: (plant: Plant, input: { query: Out<Q>; media: M }, asking: Asking) => Sheet | Promise<Sheet>;
}

/** A GET that answers a document for people, in the media type that the caller prefers. */
export function page<M extends string, Q extends ObjectSchema | undefined = undefined>(
  definition: PageDefinition<Q, M>,
): Route {
  return {
    kind: 'page',
    method: 'get',
    status: 200,
    bodyLimit: 0,
    needsIfMatch: false,
    answer: z.string(),
    ...definition,
    roles: 'any',
  } as Route;
}

interface CommandDefinition<P, B extends z.ZodType, A extends z.ZodType> extends Described {
  method?: 'post' | 'put';
  roles: readonly Role[];
  params?: P;
  body: B;
  bodyLimit?: number;
  answer: A;
  /** 201 where the command makes something with an address of its own. */
  status?: 200 | 201;
  needsIfMatch?: boolean;
  /** What of the answer is kept for a repeated request, where not all of it may be. */
  stored?: (body: z.input<A>) => z.input<A>;
  /** Its units may come to fit an open containment, and the answer then says so. */
  joins?: boolean;
  /** What the action needs and may take long: asked before, outside the transaction. */
  prepare?: (
    input: { params: Out<P>; body: z.output<B> },
    asking: Asking,
    plant: Plant,
  ) => Promise<unknown>;
  act: (
    command: Command,
    input: { params: Out<P>; body: z.output<B>; ifMatch: number; prepared: unknown },
  ) => Answer<z.input<A>> | Problem;
}

/** A POST or PUT that changes something: one transaction, under an Idempotency-Key. */
export function command<
  B extends z.ZodType,
  A extends z.ZodType,
  P extends ObjectSchema | undefined = undefined,
>(definition: CommandDefinition<P, B, A>): Route {
  return {
    kind: 'command',
    method: 'post',
    status: 201,
    bodyLimit: COMMAND_BODY_LIMIT,
    needsIfMatch: false,
    ...definition,
  } as Route;
}

/** An answer that a worker wrote out already, in the media type that was asked for. */
export interface Written {
  text: string;
}

interface Inquiry<B extends z.ZodType, I extends ObjectSchema, A extends z.ZodType>
  extends Described {
  body: B;
  item: I;
  answer: A;
  ask: (
    plant: Plant,
    input: { body: z.output<B>; csv: boolean },
    asking: Asking,
  ) => Promise<({ items: z.input<I>[] } & Record<string, unknown>) | Written>;
}

/** A POST that only asks, for a question too large for an address: JSON, or its items as CSV. */
export function inquiry<B extends z.ZodType, I extends ObjectSchema, A extends z.ZodType>(
  definition: Inquiry<B, I, A>,
): Route {
  return {
    kind: 'inquiry',
    method: 'post',
    status: 200,
    bodyLimit: INQUIRY_BODY_LIMIT,
    needsIfMatch: false,
    columns: Object.keys(definition.item.shape),
    ...definition,
    roles: 'any',
  } as Route;
}

const INQUIRY_BODY_LIMIT = 1024 * 1024;
const IMPORT_BODY_LIMIT = 2 * 1024 * 1024;

/** A POST of a CSV file: every line or none. `body` is the file's text. */
export function importRoute<A extends z.ZodType>(
  definition: Omit<CommandDefinition<undefined, z.ZodString, A>, 'body'> & { body: z.ZodString },
): Route {
  return { ...command(definition), kind: 'import', bodyLimit: IMPORT_BODY_LIMIT };
}
