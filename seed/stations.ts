import { minutes, type Process, seconds } from './agenda.js';
import type { Caller, Outcome } from './caller.js';
import type { Floor, Half } from './floor.js';
import { scanOf } from './labels.js';
import { Random } from './random.js';
import { type OrderNow, type Scans, Slips } from './slips.js';

const SLIPS = 0.055;
const DOUBLE_BEEPS = 0.03;
const ORDER_CARDS = 0.6;

interface NextToBuild {
  order: OrderNow | null;
  configuration: string | null;
}

/** Priority, then due date, then number. */
const byUrgency = (a: OrderNow, b: OrderNow): number =>
  a.priority - b.priority || a.dueOn.localeCompare(b.dueOn) || a.number.localeCompare(b.number);

interface SetAnswer {
  motor: string;
  model: string;
}

interface Job {
  order: OrderNow;
  powerhead: Half;
  lowerUnit: Half;
}

/** A powerhead set station: asks what to build, takes a pair from the racks, sets it. */
export class SetStation {
  readonly #random: Random;
  #lastPowerhead: Half | undefined;

  constructor(
    private readonly caller: Caller,
    private readonly floor: Floor,
    private readonly slips: Slips,
    /** Parts its random numbers from the other stations'. */
    number: number,
  ) {
    this.#random = Random.stream(100 + number);
  }

  async *work(): Process {
    for (;;) {
      const job = await this.#nextJob();
      if (!job) {
        yield minutes(1);
        continue;
      }
      yield Math.max(minutes(3.5), minutes(this.#random.normal(5.4, 0.5)));
      yield* this.#setPair(job);
      this.floor.countInHand(job.order.number, -1);
    }
  }

  /** What the service says to build next; the order after it where others hold its last pairs. */
  async #nextJob(): Promise<Job | undefined> {
    const next = await this.caller.ask<NextToBuild>('/v1/orders/next');
    if (!next.order || !next.configuration) return undefined;
    if (this.#lacksMotors(next.order)) return this.#take(next.order, [next.configuration]);
    const others = await this.caller.askAll<OrderNow>('/v1/orders?state=open');
    const order = others.sort(byUrgency).find((one) => this.#lacksMotors(one));
    const lanes = [...this.floor.lanes].filter(([, lane]) => lane.model === order?.model);
    return (
      order &&
      this.#take(
        order,
        lanes.map(([configuration]) => configuration),
      )
    );
  }

  #lacksMotors({ number, quantity, set }: OrderNow): boolean {
    return quantity - set > this.floor.inHand(number);
  }

  #take(order: OrderNow, configurations: readonly string[]): Job | undefined {
    for (const configuration of configurations) {
      const pair = this.floor.takePair(configuration);
      if (!pair) continue;
      this.floor.countInHand(order.number, 1);
      return { order, ...pair };
    }
    return undefined;
  }

  async *#setPair(job: Job): Process {
    if (this.#random.chance(SLIPS)) yield* this.#slip(job);
    const scans: Scans = {
      powerhead: scanOf(job.powerhead, this.#random),
      lowerUnit: scanOf(job.lowerUnit, this.#random),
      ...(this.#random.chance(ORDER_CARDS) ? { order: job.order.number } : {}),
    };
    const outcome = await this.#send(scans, this.#random.chance(DOUBLE_BEEPS));
    if (outcome.done) {
      const { motor, model } = outcome.answer;
      this.floor.addMotor(motor, model, job.powerhead, job.lowerUnit);
      this.#lastPowerhead = job.powerhead;
      return;
    }
    this.#clearUp(job, outcome);
    yield minutes(1.5);
  }

  /** A wrong scan first; the operator reads the answer and scans again. */
  async *#slip({ powerhead, lowerUnit, order }: Job): Process {
    const orders = await this.caller.askAll<OrderNow>('/v1/orders');
    const scans = this.slips.next({
      floor: this.floor,
      powerhead,
      lowerUnit,
      model: order.model,
      lastPowerhead: this.#lastPowerhead,
      orders,
    });
    if (!scans) return;
    const outcome = await this.#send(scans, false);
    if (outcome.done) throw new Error(`a wrong scan was taken: ${JSON.stringify(scans)}`);
    yield seconds(45);
  }

  async #send(scans: Scans, twice: boolean): Promise<Outcome<SetAnswer>> {
    const body = { ...scans, station: this.caller.name };
    const outcome = twice
      ? await this.caller.attemptTwice<SetAnswer>('/v1/sets', body)
      : await this.caller.attempt<SetAnswer>('/v1/sets', body);
    if (!outcome.done) this.floor.counts.refused += 1;
    return outcome;
  }

  /** Puts the half that is to blame aside, and what is good back into its rack. */
  #clearUp({ powerhead, lowerUnit }: Job, refusal: Outcome<SetAnswer> & { done: false }): void {
    const { slug, problem } = refusal;
    if (['not-accepted', 'on-hold', 'scrapped'].includes(slug)) {
      const good = problem.serial === powerhead.serial ? lowerUnit : powerhead;
      this.floor.putBack(good);
    } else if (slug === 'no-configuration') {
      this.floor.withdraw(powerhead);
      this.floor.putBack(lowerUnit);
    } else if (slug === 'order-complete' || slug === 'order-closed' || slug === 'no-open-order') {
      this.floor.putBack(powerhead);
      this.floor.putBack(lowerUnit);
    } else {
      throw new Error(`${this.caller.name}: ${slug}: ${problem.detail}`);
    }
  }
}

/** The set stations of a floor, which share one supply of slips. */
export function setStations(callers: readonly Caller[], floor: Floor): SetStation[] {
  const slips = new Slips(Random.stream(4));
  return callers.map((caller, number) => new SetStation(caller, floor, slips, number));
}
