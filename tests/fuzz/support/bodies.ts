import fc from 'fast-check';
import { fitting, freshName, type Stock } from './fitting.js';
import type { Operation } from './operations.js';

/** A body that was taken, and where. */
export interface Taken {
  path: string;
  body: unknown;
}

/** What was taken, by operation: the seeds of others. */
export type Corpus = ReadonlyMap<string, readonly Taken[]>;

/** A body, and the one path that it is meant for, where there is one. */
export interface MadeBody {
  body: unknown;
  path?: string;
}

/** Members that name what a command makes: taken once, they are taken no more. */
const naming = ['number', 'code', 'serial', 'name'];

/** A body by its schema, or one that was once taken with some members exchanged. */
export function bodyOf(operation: Operation, stock: Stock, corpus: Corpus): fc.Arbitrary<MadeBody> {
  const taken = corpus.get(operation.name) ?? [];
  if (operation.body?.media === 'text/csv') return fileOf(taken, stock);
  const fits = fitting(operation.body?.schema ?? {}, '', stock);
  const bySchema = fits.map((body) => ({ body: inItsClass(body, stock) }));
  if (taken.length === 0) return bySchema;
  const mixed = fc
    .record({
      base: fc.constantFrom(...taken),
      other: fits,
      exchanged: fc.array(fc.nat(999), { maxLength: 3 }),
      name: fc.option(freshName, { freq: 3 }),
      staysThere: fc.boolean(),
    })
    .map(({ base, other, exchanged, name, staysThere }) => {
      const members = Object.entries(other as object);
      const chosen = exchanged.map((n) => members[n % (members.length || 1)]);
      const body: Record<string, unknown> = {
        ...structuredClone(base.body as object),
        ...Object.fromEntries(chosen.filter((one) => one !== undefined)),
      };
      const named = naming.find((one) => typeof body[one] === 'string');
      if (name !== null && named && !operation.path.includes('{')) body[named] = name;
      return { body: inItsClass(body, stock), ...(staysThere ? { path: base.path } : {}) };
    });
  return fc.oneof({ weight: 5, arbitrary: mixed }, { weight: 3, arbitrary: bySchema });
}

/** A body in which units that are known are said to be of their own class. */
function inItsClass(body: unknown, stock: Stock): unknown {
  if (typeof body !== 'object' || body === null || Array.isArray(body)) return body;
  const said = [
    ['class', 'unit'],
    ['class', 'serial'],
    ['parentClass', 'parent'],
    ['childClass', 'child'],
  ] as const;
  const changed = Object.fromEntries(
    Object.entries(body).map(([name, value]) => [name, inItsClass(value, stock)]),
  );
  for (const [unitClass, unit] of said) {
    const own = stock.known.classOf(changed[unit]);
    if (unitClass in changed && own !== undefined) changed[unitClass] = own;
  }
  return changed;
}

/** A file that was once taken, with the names at the beginning of its lines replaced. */
function fileOf(taken: readonly Taken[], { known }: Stock): fc.Arbitrary<MadeBody> {
  const models = known.of('model').map(String);
  return fc
    .tuple(fc.constantFrom(...taken), fc.nat(9999), fc.constantFrom('F100L', ...models))
    .map(([{ body }, n, model]) => ({
      body: String(body)
        .replaceAll(/^I(-\d+)/gm, `K${n}$1`)
        .replaceAll(/^M-\d+/gm, model),
    }));
}
