import { TestPlant } from '../../support/plant.js';
import { furnish } from '../../support/scenario.js';
import type { Taken } from './bodies.js';
import { chapters } from './chapters.js';
import { Known } from './known.js';
import { type Operation, operations } from './operations.js';

const patterns = operations
  .map((operation) => ({
    operation,
    form: new RegExp(`^${operation.path.replaceAll(/\{\w+\}/g, '[^/]+')}$`),
  }))
  .sort((a, b) => a.operation.path.split('{').length - b.operation.path.split('{').length);

/** Which operation a request is of. */
function operationAt(method: string, address: string): Operation | undefined {
  const path = address.split('?', 1)[0] ?? '';
  const fits = (one: (typeof patterns)[number]) =>
    one.operation.method === method && one.form.test(path);
  return patterns.find(fits)?.operation;
}

/** A plant in which something of every kind has happened, and what is to be known of it. */
export class LivedIn {
  /** Bodies that were taken, by operation. */
  readonly corpus = new Map<string, Taken[]>();
  known = new Known();

  private constructor(readonly plant: TestPlant) {
    this.#listen();
  }

  static async start(): Promise<LivedIn> {
    const life = new LivedIn(await TestPlant.start());
    await furnish(life.plant);
    for (const chapter of chapters) await chapter(life.plant);
    await life.lookAround();
    return life;
  }

  /** Keeps every body that is taken. */
  #listen(): void {
    const { plant } = this;
    for (const method of ['post', 'put'] as const) {
      const send = plant[method].bind(plant);
      plant[method] = async (as, address, body, sent) => {
        const answer = await send(as, address, body, sent);
        const operation = operationAt(method, address);
        if (answer.status < 300 && operation) {
          const bodies = this.corpus.get(operation.name) ?? [];
          this.corpus.set(operation.name, [...bodies, { path: address, body }]);
        }
        return answer;
      };
    }
  }

  /** Asks for every table, so that ids and serials are known. */
  async lookAround(): Promise<void> {
    const known = new Known();
    const tables = operations.filter((one) => one.method === 'get' && hasLimit(one));
    for (const { path } of tables.sort((a, b) => a.path.length - b.path.length)) {
      for (const address of addressesOf(path, known)) {
        const as = path.startsWith('/v1/keys') ? 'admin' : 'read';
        known.learnRows(path, await this.#rowsOf(as, `${address}?limit=1000`));
      }
    }
    this.known = known;
  }

  async #rowsOf(as: string, address: string): Promise<Record<string, unknown>[]> {
    const rows: Record<string, unknown>[] = [];
    let next: string | null = address;
    for (let page = 0; next !== null && page < PAGES; page += 1) {
      const answer = await this.plant.get(as, next);
      if (answer.status !== 200) break;
      rows.push(...answer.body.items);
      next = answer.body.next;
    }
    return rows;
  }
}

/** Pages of a table that are looked at. */
const PAGES = 10;

function hasLimit({ parameters }: Operation): boolean {
  return parameters.some((one) => one.name === 'limit');
}

/** A table's addresses under the first things that it may be of. */
function addressesOf(path: string, known: Known): string[] {
  const [, parameter] = /\{(\w+)\}/.exec(path) ?? [];
  if (parameter === undefined) return [path];
  const values = known.ofPath(parameter).slice(0, 3);
  return values.flatMap((value) =>
    addressesOf(path.replace(`{${parameter}}`, encodeURIComponent(value)), known),
  );
}
