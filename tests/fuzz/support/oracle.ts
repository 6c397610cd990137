import type { Plant } from '../../../src/plant.js';
import { assertDocumented } from '../../support/document-check.js';
import type { TestPlant } from '../../support/plant.js';
import type { FuzzAnswer } from './client.js';
import { type FuzzRequest, shown } from './twists.js';

/** A refusal of these is an event itself, and its kind. */
const recordedRefusals = ['pair.refused'];
/** What would tell of the inside: places in source, SQL, the runtime. */
const inside = /node_modules|\.[jt]s:\d+|SQLITE_|SELECT .+ FROM|at Object\./;
const ERROR_LEVEL = 50;

/** What a service must never do, whatever is sent to it. */
export class Oracle {
  readonly faults: string[] = [];
  /** Events that there should be: those at the beginning, and those that commands wrote. */
  expectedEvents: number;
  #loose: string[] = [];
  readonly #onRejection = (reason: unknown) => {
    this.faults.push(`unhandled rejection: ${String(reason)}`);
  };

  constructor(private readonly plant: TestPlant) {
    this.expectedEvents = plant.eventCount();
    process.on('unhandledRejection', this.#onRejection);
    this.#watchCommands();
  }

  close(): void {
    process.off('unhandledRejection', this.#onRejection);
  }

  /** Counts, inside each command's own transaction, the events that it writes. */
  #watchCommands(): void {
    const { store } = this.plant.service;
    const command = store.command.bind(store);
    store.command = async <T>(work: (records: Plant) => T): Promise<T> => {
      let kinds: string[] = [];
      const value = await command((plant) => {
        const before = plant.journal.last()?.seq ?? 0;
        const done = work(plant);
        kinds = plant.journal.after(before, 100_000).map((event) => event.kind);
        return done;
      });
      this.expectedEvents += kinds.length;
      const { answer } = (value ?? {}) as { answer?: { status: number; body: string } };
      const isRefusal = answer !== undefined && answer.status >= 400;
      if (isRefusal && kinds.some((kind) => !recordedRefusals.includes(kind))) {
        this.#loose.push(`${answer.body} was answered, yet written: ${kinds.join()}`);
      }
      return value;
    };
  }

  /** Looks at one answer. */
  judge(sent: FuzzRequest, answer: FuzzAnswer): void {
    const told = (fault: string) => this.faults.push(`${fault}\n  sent ${shown(sent)}`);
    const { status, text } = answer;
    if (status >= 500 && status !== 503) told(`${status} ${text.slice(0, 300)}`);
    if (status >= 400 && inside.test(text)) told(`tells of its inside: ${text.slice(0, 300)}`);
    if (answer.headers['x-request-id'] === undefined) told(`${status} without X-Request-Id`);
    if (sent.method === 'HEAD') {
      if (text !== '') told('HEAD was answered with a body');
      return;
    }
    if (!['GET', 'POST', 'PUT'].includes(sent.method)) {
      if (![401, 405, 429].includes(status)) told(`${status} for a method of no route`);
      return;
    }
    try {
      assertDocumented(sent.method.toLowerCase(), sent.path, { ...answer, body: undefined });
    } catch (error) {
      told((error as Error).message);
    }
  }

  /** A command sent twice must be answered alike and done once. */
  judgeTwin(sent: FuzzRequest, first: FuzzAnswer, second: FuzzAnswer): void {
    // Neither is kept: the first two are no command yet, the third is to be sent again.
    if ([401, 429, 503].includes(first.status)) return;
    const isShownOnce = sent.path === '/v1/keys' && first.status === 201;
    const alike = first.status === second.status && (isShownOnce || first.text === second.text);
    if (!alike) {
      this.faults.push(
        `answered ${first.status} ${first.text.slice(0, 300)}\n  and again ${second.status} ${second.text.slice(0, 300)}\n  sent ${shown(sent)}`,
      );
    }
  }

  /** Looks at what a batch of requests left behind: the log and the journal. */
  lookBehind(batch: readonly FuzzRequest[]): void {
    const errors = this.plant.logLines.filter(
      (line) => (JSON.parse(line) as { level: number }).level >= ERROR_LEVEL,
    );
    this.plant.logLines.length = 0;
    for (const fault of [...this.#loose, ...errors.map((line) => line.slice(0, 1500))]) {
      this.faults.push(`${fault}\n  in a batch of\n  ${batch.map(shown).join('\n  ')}`);
    }
    this.#loose = [];
  }
}
