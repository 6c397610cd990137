import { type Agenda, hours, minutes, type Process, seconds } from './agenda.js';
import type { Caller } from './caller.js';
import { airAt, type Characteristic, Engine, onOlderInstruments, type Prompt } from './engine.js';
import type { Floor, Motor, OrphanRun } from './floor.js';
import { motorScan } from './labels.js';
import { Random } from './random.js';

interface OpenRun {
  id: number;
  prompts: Prompt[];
  outstanding: string[];
}

interface Completion {
  verdict: 'pass' | 'fail';
  repair: number | null;
}

/** A motor running in a cell. */
interface Running {
  motor: Motor;
  run: OpenRun;
  engine: Engine;
}

/** When a cell dies, and what becomes of the run in it. */
export interface CellDeath {
  atMs: number;
  runIs: 'taken-over' | 'aborted';
}

const ABORTS = 0.02;
const REPEATED_BATCHES = 0.02;

const ABORT_REASONS = [
  'Cooling water supply tripped',
  'Carbon monoxide alarm in the hall: all stopped, hall vented',
  'Test wheel came loose: guard opened after the stop',
];

/** Prompts worked through before each batch is sent; the rest come with the completion. */
const STAGES = [
  { prompts: [0, 2], minutes: 4 },
  { prompts: [2, 4], minutes: 3 },
  { prompts: [4, 99], minutes: 4.5 },
] as const;

/** A test cell: takes the motor that waits longest, runs it through its prompts, posts readings. */
export class TestCell {
  readonly #random: Random;
  #death: CellDeath | undefined;

  constructor(
    private readonly caller: Caller,
    private readonly floor: Floor,
    private readonly agenda: Agenda,
    private readonly options: {
      number: number;
      startMs: number;
      /** Has instruments in psi, degrees Fahrenheit and gallons. */
      isOlder: boolean;
      /** Loses its computer in the first run after that time. */
      death?: CellDeath | undefined;
    },
  ) {
    this.#random = Random.stream(200 + options.number);
    this.#death = options.death;
  }

  async *work(): Process {
    for (;;) {
      const orphan = this.floor.orphans.shift();
      const motor = orphan ? undefined : this.floor.toTest.shift();
      if (orphan) yield* this.#takeOver(orphan);
      else if (motor) yield* this.#test(motor);
      else yield seconds(30);
    }
  }

  async *#test(motor: Motor): Process {
    yield minutes(this.#random.between(1.2, 1.8));
    const run = await this.caller.tell<OpenRun>('/v1/runs', {
      motor: motorScan(motor.serial, this.#random),
      cell: this.caller.name,
    });
    const running = { motor, run, engine: this.#engine(run, motor) };
    const [first, second] = STAGES;
    yield minutes(first.minutes * this.#random.between(0.9, 1.1));
    await this.#postBatch(running, 1, run.prompts.slice(...first.prompts));
    if (this.#death && this.agenda.now >= this.#death.atMs) {
      const { runIs } = this.#death;
      this.#death = undefined;
      const orphans = runIs === 'taken-over' ? this.floor.orphans : this.floor.orphansToAbort;
      orphans.push({ motor, run: run.id, cell: this.caller.name });
      yield hours(1);
      return;
    }
    if (this.#random.chance(ABORTS)) {
      yield* this.#abort(running);
      return;
    }
    yield minutes(second.minutes * this.#random.between(0.9, 1.1));
    await this.#postBatch(running, 2, run.prompts.slice(...second.prompts));
    yield* this.#finish(running, run.prompts.slice(...STAGES[2].prompts), 2);
  }

  /** Goes on with a run whose own cell died, from what is outstanding. */
  async *#takeOver({ motor, run: id }: OrphanRun): Process {
    yield minutes(6);
    const run = await this.caller.tell<OpenRun>(`/v1/runs/${id}/resumption`, {
      cell: this.caller.name,
    });
    const outstanding = new Set(run.outstanding);
    const rest = run.prompts.map((prompt) => ({
      ...prompt,
      characteristics: prompt.characteristics.filter((one) => outstanding.has(one.code)),
    }));
    yield minutes(4);
    yield* this.#finish({ motor, run, engine: this.#engine(run, motor) }, rest, 1);
  }

  async *#finish({ motor, run, engine }: Running, rest: Prompt[], batches: number): Process {
    yield minutes(STAGES[2].minutes * this.#random.between(0.9, 1.1));
    const done = await this.caller.tell<Completion>(`/v1/runs/${run.id}/completion`, {
      readings: this.#readings(engine, rest),
      batches,
      cellVerdict: this.#opinion(motor),
    });
    this.floor.counts.tested += 1;
    if (done.verdict === 'fail') this.#sendToRepair(motor, done.repair);
  }

  async *#abort({ motor, run }: Running): Process {
    yield seconds(40);
    const reason = ABORT_REASONS[this.#random.below(ABORT_REASONS.length)];
    await this.caller.tell(`/v1/runs/${run.id}/abort`, { reason });
    this.floor.toTest.unshift(motor);
    yield minutes(9);
  }

  /** Sends a batch; now and then once more, since the answer got lost on the way. */
  async #postBatch(
    { run, engine }: Running,
    sequence: number,
    prompts: readonly Prompt[],
  ): Promise<void> {
    const body = {
      sequence,
      measuredAt: new Date(this.agenda.now).toISOString(),
      readings: this.#readings(engine, prompts),
    };
    await this.caller.tell(`/v1/runs/${run.id}/batches`, body);
    if (this.#random.chance(REPEATED_BATCHES)) {
      await this.caller.tell(`/v1/runs/${run.id}/batches`, body);
    }
  }

  #readings(engine: Engine, prompts: readonly Prompt[]) {
    const asked: Characteristic[] = prompts.flatMap((prompt) => prompt.characteristics);
    const readings = engine.readings(asked);
    return this.options.isOlder ? onOlderInstruments(readings, asked) : readings;
  }

  #engine(run: OpenRun, motor: Motor): Engine {
    const hour = (this.agenda.now - this.options.startMs) / hours(1);
    return new Engine(run.prompts, motor.fault, airAt(hour), this.#random);
  }

  /** Cell software knows the specification limits but no guard bands. */
  #opinion({ fault }: Motor): 'pass' | 'fail' {
    return fault && fault.inGuardBand === undefined ? 'fail' : 'pass';
  }

  #sendToRepair(motor: Motor, repair: number | null): void {
    this.floor.counts.failed += 1;
    const { fault } = motor;
    const remedy = fault?.remedies[motor.remediesTried];
    if (!fault || !remedy || repair === null) {
      throw new Error(`${motor.serial} failed although nothing is wrong with it`);
    }
    const job = { motor, repair, fault, remedy };
    const forBench = remedy.kind === 'adjust' || remedy.kind === 'exchange';
    (forBench ? this.floor.toRepair : this.floor.toDecide).push(job);
  }
}
