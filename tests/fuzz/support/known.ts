import { type Operation, operations } from './operations.js';

type Value = string | number;
type Row = Record<string, unknown>;

/** Rows kept of those that are in the same state: some of each, so that every state is met. */
const KEPT_OF_A_STATE = 5;

/** Members of requests that take what answers call by another name. */
const alsoKnownAs: Record<string, readonly string[]> = {
  unit: ['serial'],
  parent: ['serial'],
  child: ['serial'],
  removed: ['serial'],
  serials: ['serial'],
  first: ['serial'],
  last: ['serial'],
  motors: ['motor'],
  models: ['model'],
  cells: ['cell'],
  part: ['number'],
  powerheadNumber: ['number'],
  lowerUnitNumber: ['number'],
  powerheadRevision: ['revision'],
  lowerUnitRevision: ['revision'],
  parentClass: ['class'],
  childClass: ['class'],
  characteristic: ['code'],
  inputs: ['code'],
  symptom: ['code'],
  cause: ['code'],
  action: ['code'],
  repairCause: ['code'],
  configuration: ['code'],
  key: ['name'],
};

/** What requests call a unit of a class. */
const namesOfClass: Record<string, string> = {
  powerhead: 'powerhead',
  'lower-unit': 'lowerUnit',
  motor: 'motor',
};

/** What is there in a plant, by the names that the interface itself gives it. */
export class Known {
  readonly #values = new Map<string, Set<Value>>();
  /** Lists, in which what is rare stands as often as what is common. */
  readonly #parameters = new Map<string, string[]>();
  readonly #classes = new Map<Value, string>();

  /** Takes in the rows of a table, some of each state. */
  learnRows(path: string, rows: readonly Row[]): void {
    const parameters = parametersAfter(path);
    for (const row of someOfEachState(rows)) {
      if (path !== '/v1/events') this.#learn(row, '');
      if (path === '/v1/units') this.#learnUnit(row);
      // The keys that every test plant begins with are its own: a fuzzer would revoke them.
      if (path === '/v1/keys' && /^\S+( 2)? key$/.test(String(row.name))) continue;
      for (const [parameter, isNumber] of parameters) {
        const name = row.number ?? row.code ?? row.id;
        const value = row[parameter] ?? (isNumber ? row.id : name);
        this.#parameters.set(parameter, [...this.ofPath(parameter), String(value)]);
      }
    }
  }

  /** Takes in every text and number of an answer under its member's name. */
  #learn(answer: unknown, name: string): void {
    if (typeof answer !== 'object' || answer === null) {
      this.#keep(name, answer);
      return;
    }
    for (const [member, value] of Object.entries(answer)) {
      this.#learn(value, Array.isArray(answer) ? name : member);
    }
  }

  /** Halves count where they are free: most are in a motor, and would always be refused. */
  #learnUnit({ class: unitClass, serial, state, onHold }: Row): void {
    this.#classes.set(serial as string, unitClass as string);
    const name = namesOfClass[unitClass as string];
    const isFree = state === 'accepted' && !onHold;
    if (name !== undefined && (isFree || name === 'motor')) this.#keep(name, serial);
  }

  #keep(name: string, value: unknown): void {
    if (typeof value !== 'string' && typeof value !== 'number') return;
    const values = this.#values.get(name) ?? new Set();
    this.#values.set(name, values.add(value));
  }

  /** Values that a member or a query parameter of that name may take. */
  of(name: string): Value[] {
    const names = [name, ...(alsoKnownAs[name] ?? [])];
    const own = names.map((one) => this.#values.get(one)).find((values) => values !== undefined);
    return [...(own ?? [])];
  }

  /** Values that stand for a parameter of a path, as text. */
  ofPath(parameter: string): string[] {
    return this.#parameters.get(parameter) ?? [];
  }

  /** The class of a unit that is known. */
  classOf(serial: unknown): string | undefined {
    return this.#classes.get(serial as Value);
  }
}

/** The latest few rows that are in the same state, for every state there is. */
function someOfEachState(rows: readonly Row[]): Row[] {
  const byState = new Map<string, Row[]>();
  for (const row of rows) {
    const state = stateOf(row);
    const some = byState.get(state) ?? [];
    byState.set(state, some);
    some.push(row);
    // The first of all stays: the whole plant hangs on it.
    if (some.length > KEPT_OF_A_STATE) some.splice(1, 1);
  }
  return [...byState.values()].flatMap((some) =>
    Array.from({ length: KEPT_OF_A_STATE }, (_, i) => some[i % some.length] as Row),
  );
}

const namesOfState = ['class', 'state', 'onHold', 'open', 'verdict', 'held', 'disposition', 'kind'];

/** Rows with the same text are in the same state, as far as their members tell. */
function stateOf(row: Row): string {
  const times = Object.entries(row).filter(([name]) => /[a-z]At$/.test(name));
  return JSON.stringify([
    namesOfState.map((name) => row[name]),
    times.map(([name, at]) => [name, at === null]),
  ]);
}

const cached = new Map<string, [string, boolean][]>();

/** `run` for `/v1/runs`: the parameters that stand behind a table's address, and whether they are numbers. */
function parametersAfter(path: string): [string, boolean][] {
  const known = cached.get(path);
  if (known) return known;
  const after = operations.filter((one) => one.path.startsWith(`${path}/{`));
  const found = new Map(
    after.map((one) => {
      const name = one.path.slice(path.length + 2).split('}', 1)[0] ?? '';
      return [name, isNumber(one, name)];
    }),
  );
  cached.set(path, [...found]);
  return [...found];
}

function isNumber({ parameters }: Operation, name: string): boolean {
  const found = parameters.find((one) => one.in === 'path' && one.name === name);
  return String(found?.schema.pattern).startsWith('^\\d');
}
