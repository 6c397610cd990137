import BetterSqlite3 from 'better-sqlite3';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { wilsonInterval } from '../../src/statistics/wilson-interval.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, order, passing } from '../support/scenario.js';

const HOUR_MS = 3_600_000;
const CODES = ['idle-speed', 'water-pressure', 'telltale'];
const CELLS = ['A', 'B'];
const wrong: Record<string, unknown> = { 'idle-speed': 900, 'water-pressure': 20, telltale: false };

interface Run {
  id: number;
  cell: string;
  atMs: number;
  failed: string[];
}

interface Repair {
  id: number;
  runId: number | null;
  atMs: number;
  outcome: string | null;
  codes: Record<string, string>;
}

/** A motor as the naive model keeps it: what happened to it, in order. */
interface Motor {
  id: number;
  serial: string;
  state: string;
  runs: Run[];
  repairs: Repair[];
  /** When it last went back after it had passed or was conceded. */
  backAtMs: number;
}

interface Window {
  fromDay?: string;
  untilDay?: string;
  cell?: string;
}

type Line = Record<string, unknown>;

const dayOf = (ms: number) => new Date(ms).toISOString().slice(0, 10);
const within = (ms: number, { fromDay = '', untilDay = '9' }: Window) =>
  dayOf(ms) >= fromDay && dayOf(ms) <= untilDay;
const total = (numbers: number[]) => numbers.reduce((sum, one) => sum + one, 0);

/** The plant once more, as plain lists, and every figure by the plainest means. */
class Naive {
  readonly motors: Motor[] = [];
  /** First inspections, later ones and attempts at a set: step, day, place, whether passed. */
  readonly attempts: { step: string; day: string; passed: boolean; later: boolean }[] = [];

  /** Failed runs of a window with what came of each. */
  loops(window: Window) {
    return this.motors.flatMap((motor) =>
      motor.runs
        .map((run, i) => ({ motor, run, next: motor.runs[i + 1] }))
        .filter(({ run }) => run.failed.length > 0 && within(run.atMs, window))
        .filter(({ run }) => window.cell === undefined || run.cell === window.cell)
        .map((loop) => {
          const repair = loop.motor.repairs.find((one) => one.runId === loop.run.id);
          if (!repair) throw new Error('a failed run opened no repair');
          return { ...loop, repair };
        }),
    );
  }

  repairs(window: Window): Repair[] {
    return this.motors
      .flatMap((motor) => motor.repairs.map((repair) => ({ motor, repair })))
      .filter(({ repair }) => within(repair.atMs, window))
      .filter(({ motor, repair }) => {
        const run = motor.runs.find((one) => one.id === repair.runId);
        return window.cell === undefined || run?.cell === window.cell;
      })
      .map(({ repair }) => repair);
  }
}

type Loop = ReturnType<Naive['loops']>[number];

const goesOn = ({ motor }: Loop) => ['awaiting-test', 'in-repair'].includes(motor.state);
const unfinished = (loops: Loop[]) => loops.filter((one) => !one.next && goesOn(one)).length;
const endedLoops = (loops: Loop[]) => loops.filter((one) => !one.next && !goesOn(one)).length;
const again = (loops: Loop[], code: string) =>
  loops.filter((one) => one.next?.failed.includes(code)).length;

function share(count: number, of: number) {
  if (of === 0) return { share: null, lower: null, upper: null };
  return { share: count / of, ...wilsonInterval(count, of) };
}

function quantile(sample: number[], p: number): number | null {
  const sorted = [...sample].sort((a, b) => a - b);
  const position = (sorted.length - 1) * p;
  const [below, above] = [sorted[Math.floor(position)], sorted[Math.ceil(position)]];
  if (below === undefined || above === undefined) return null;
  return below + (position % 1) * (above - below);
}

function paretoOf(categories: string[]): Line[] {
  const names = [...new Set(categories)].sort();
  const countOf = (name: string) => categories.filter((one) => one === name).length;
  return names
    .sort((a, b) => countOf(b) - countOf(a))
    .map((category) => {
      const count = countOf(category);
      const upTo = categories.filter((one) => countOf(one) >= count).length;
      return {
        category,
        count,
        share: count / categories.length,
        cumulativeShare: upTo / categories.length,
      };
    });
}

/** What each question has to answer, without its links and ranks. */
const expected = {
  'loops-per-motor': (naive: Naive, window: Window) => {
    const loops = naive.motors
      .filter(({ runs: [first] }) => first && within(first.atMs, window))
      .filter(({ runs: [first] }) => window.cell === undefined || first?.cell === window.cell)
      .map((motor) => motor.runs.length - 1);
    return [...new Set(loops)]
      .sort((a, b) => a - b)
      .map((n) => ({
        loops: n,
        motors: loops.filter((one) => one === n).length,
        cumulativeShare: loops.filter((one) => one <= n).length / loops.length,
        meanLoops: total(loops) / loops.length,
      }));
  },
  'times?by=characteristic': (naive: Naive, window: Window) =>
    times(naive.loops(window), [...CODES].sort(), (loop, code) => loop.run.failed.includes(code)),
  'times?by=cell': (naive: Naive, window: Window) =>
    times(naive.loops(window), CELLS, (loop, cell) => loop.run.cell === cell),
  'times?by=model': (naive: Naive, window: Window) =>
    times(naive.loops(window), ['F100L'], () => true),
  'pareto?of=characteristic': (naive: Naive, window: Window) =>
    paretoOf(naive.loops(window).flatMap((one) => one.run.failed)),
  'pareto?of=symptom': (naive: Naive, window: Window) => paretoOf(codes(naive, window, 'symptom')),
  'pareto?of=cause': (naive: Naive, window: Window) => paretoOf(codes(naive, window, 'cause')),
  'pareto?of=action': (naive: Naive, window: Window) => paretoOf(codes(naive, window, 'action')),
  'cures?of=characteristic': (naive: Naive, window: Window) =>
    curesOf(naive.loops(window), CODES, (loop, code) => loop.run.failed.includes(code), again),
  'cures?of=cause': (naive: Naive, window: Window) =>
    curesOf(
      naive.loops(window),
      ['impeller', 'sensor'],
      (loop, cause) => loop.repair.codes.cause === cause,
      (loops) =>
        loops.filter(({ run, next }) => run.failed.some((one) => next?.failed.includes(one)))
          .length,
    ),
  refails: (naive: Naive, window: Window) =>
    [...CODES].sort().flatMap((characteristic) => {
      const loops = naive.loops(window).filter(({ run }) => run.failed.includes(characteristic));
      const nextRuns = loops.filter((one) => one.next).length;
      const failedAgain = again(loops, characteristic);
      if (loops.length === 0) return [];
      const open = { unfinished: unfinished(loops), ended: endedLoops(loops) };
      const counts = { characteristic, failedRuns: loops.length, nextRuns, failedAgain };
      return [{ ...counts, ...share(failedAgain, nextRuns), ...open }];
    }),
  'no-fault-found': (naive: Naive, window: Window) =>
    CELLS.flatMap((cell) => {
      const loops = naive.loops(window).filter(({ run }) => run.cell === cell);
      const closed = loops.filter(({ repair }) => repair.outcome !== null).length;
      const none = loops.filter(({ repair }) => repair.outcome === 'no-fault-found').length;
      if (loops.length === 0) return [];
      const counts = { cell, failedRuns: loops.length, closed, noFaultFound: none };
      return [{ ...counts, ...share(none, closed) }];
    }),
  motors: (naive: Naive, window: Window) => {
    const repairs = naive.repairs(window);
    return naive.motors
      .map((motor) => ({ motor, own: repairs.filter((one) => motor.repairs.includes(one)) }))
      .filter(({ own }) => own.length > 0)
      .map(({ motor, own }) => ({
        ...{ motor: motor.serial, state: motor.state, loops: Math.max(0, motor.runs.length - 1) },
        repairs: own.map((one) => one.id).sort(),
        runs: own.flatMap((one) => (one.runId === null ? [] : [one.runId])).sort(),
      }));
  },
} satisfies Record<string, (naive: Naive, window: Window) => Line[]>;

function codes(naive: Naive, window: Window, kind: string): string[] {
  return naive.repairs(window).flatMap(({ codes }) => codes[kind] ?? []);
}

function times(loops: Loop[], slices: string[], isOf: (loop: Loop, slice: string) => boolean) {
  return slices.flatMap((slice) => {
    const own = loops.filter((loop) => isOf(loop, slice));
    const hours = own.flatMap(({ run, next }) =>
      next ? [Math.max(0, (next.atMs - run.atMs) / HOUR_MS)] : [],
    );
    const quantiles = {
      medianHours: quantile(hours, 0.5),
      p90Hours: quantile(hours, 0.9),
      maxHours: quantile(hours, 1),
    };
    const open = { unfinished: unfinished(own), ended: endedLoops(own) };
    return own.length === 0 ? [] : [{ slice, loops: hours.length, ...quantiles, ...open }];
  });
}

function curesOf(
  loops: Loop[],
  categories: string[],
  isOf: (loop: Loop, category: string) => boolean,
  failedAgain: (loops: Loop[], category: string) => number,
): Line[] {
  return [...categories]
    .sort()
    .flatMap((category) =>
      ['adjusted', 'replaced'].map((action) => {
        const own = loops
          .filter((one) => one.repair.codes.action === action)
          .filter((one) => isOf(one, category));
        const nextRuns = own.filter((one) => one.next).length;
        const passed = own.filter((one) => one.next?.failed.length === 0).length;
        const counts = { category, action, loops: own.length, nextRuns, passed };
        const open = { unfinished: unfinished(own), ended: endedLoops(own) };
        const more = { failedAgain: failedAgain(own, category) };
        return { ...counts, ...share(passed, nextRuns), ...more, ...open };
      }),
    )
    .filter((one) => one.loops > 0)
    .sort((a, b) => b.loops - a.loops);
}

/** Numbers to fourteen digits, since sums may be taken in another order; the rest as it is. */
function rounded(value: unknown): unknown {
  if (typeof value === 'number') return Number(value.toPrecision(14));
  if (Array.isArray(value)) return [...value.map(rounded)].sort();
  if (value === null || typeof value !== 'object') return value;
  return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, rounded(one)]));
}

/** What a step of a life needs to choose from. */
interface Choice {
  name: string;
  picks: readonly number[];
  hours: number;
}

const openRepair = (motor: Motor) => motor.repairs.find((one) => one.outcome === null);

/** Whether a motor may have something done to it now. */
function isAble(motor: Motor, name: string): boolean {
  const repair = openRepair(motor);
  if (name === 'test') return motor.state === 'awaiting-test';
  if (name === 'complain') return ['awaiting-test', 'passed'].includes(motor.state);
  if (name === 'close') return repair !== undefined;
  if (name === 'retest') return ['in-repair', 'passed'].includes(motor.state);
  if (name === 'concede') return repair !== undefined && repair.runId !== null;
  return motor.state !== 'scrapped';
}

class Life {
  constructor(
    private readonly plant: TestPlant,
    private readonly naive: Naive,
    private readonly seen: Map<string, number>,
  ) {}

  async live({ name, picks, hours }: Choice): Promise<void> {
    this.plant.wait(hours * HOUR_MS + 1000);
    const [which = 0, ...more] = picks;
    const done = await this.deed(name, which, more);
    if (done) this.seen.set(name, (this.seen.get(name) ?? 0) + 1);
  }

  private async deed(name: string, which: number, more: number[]): Promise<boolean> {
    if (name === 'set') return this.set(more);
    if (name === 'refuse') return this.refuse();
    const able = this.naive.motors.filter((one) => isAble(one, name));
    const motor = able[which % able.length];
    if (!motor) return false;
    const repair = openRepair(motor);
    if (name === 'test') return this.test(motor, more);
    if (name === 'complain') return this.complain(motor);
    if (name === 'retest') return this.retest(motor, repair);
    if (name === 'close' && repair) return this.close(motor, repair, more);
    return this.dispose(motor, repair, name === 'scrap' ? 'scrap' : 'concession');
  }

  private attempt(step: string, passed: boolean, later = false): void {
    this.naive.attempts.push({ step, day: dayOf(this.plant.now), passed, later });
  }

  private async set([rejects = 0]: number[]): Promise<boolean> {
    const { plant } = this;
    const powerhead = await enter(plant, 'powerhead');
    this.attempt('build record', true);
    const rejected = rejects % 3 === 0;
    const inspection = { result: rejected ? 'rejected' : 'accepted' };
    const lowerUnit = await enter(plant, 'lower-unit', { inspection });
    this.attempt('paint inspection', !rejected);
    if (rejected) {
      const body = { class: 'lower-unit', unit: lowerUnit, result: 'accepted' };
      await plant.make('quality', '/v1/inspections', body);
      this.attempt('paint inspection', true, true);
    }
    const { motor: serial } = await plant.make<{ motor: string }>('set', '/v1/sets', {
      ...{ powerhead, lowerUnit, station: 'SET-1' },
    });
    this.attempt('set', true);
    const id = plant.service.store.reading.units.bySerial('motor', serial)?.id ?? 0;
    this.naive.motors.push({
      ...{ id, serial, state: 'awaiting-test', runs: [], repairs: [], backAtMs: 0 },
    });
    return true;
  }

  private async refuse(): Promise<boolean> {
    const scans = { powerhead: 'P-NONE', lowerUnit: 'L-NONE' };
    await this.plant.post('set', '/v1/sets', { ...scans, station: 'SET-2' });
    this.attempt('set', false);
    return true;
  }

  /** A run, first aborted once where so picked; it may be said to have ended five hours ago. */
  private async test(motor: Motor, [fails = 0, at = 0, late = 0]: number[]): Promise<boolean> {
    const { plant } = this;
    const cell = CELLS[at % 2] ?? 'A';
    const failed = CODES.filter((_, i) => fails & (1 << i));
    const readings = passing.map((one) => ({
      ...one,
      value: failed.includes(one.code) ? wrong[one.code] : one.value,
    }));
    const atMs = late % 4 === 0 ? plant.now - 5 * HOUR_MS : plant.now;
    const occurredAt = new Date(atMs).toISOString();
    const start = { motor: motor.serial, cell, occurredAt };
    if (late % 3 === 0) {
      const aborted = await plant.make<{ id: number }>('cell', '/v1/runs', start);
      await plant.make('cell', `/v1/runs/${aborted.id}/abort`, { reason: 'No water' });
    }
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', start);
    const { repair } = await plant.make<{ repair: number | null }>(
      'cell',
      `/v1/runs/${id}/completion`,
      { readings, occurredAt },
    );
    motor.runs.push({ id, cell, atMs, failed });
    motor.state = failed.length > 0 ? 'in-repair' : 'passed';
    if (repair !== null) {
      motor.repairs.push({ id: repair, runId: id, atMs, outcome: null, codes: {} });
    }
    return true;
  }

  private async complain(motor: Motor): Promise<boolean> {
    const body = { motor: motor.serial, complaint: 'Scratched' };
    const { id } = await this.plant.make<{ id: number }>('repair', '/v1/repairs', body);
    const atMs = this.plant.now;
    if (motor.state === 'passed') motor.backAtMs = atMs;
    motor.repairs.push({ id, runId: null, atMs, outcome: null, codes: {} });
    motor.state = 'in-repair';
    return true;
  }

  private async close(motor: Motor, repair: Repair, picks: number[]): Promise<boolean> {
    const pick = (i: number, from: string[]) => from[(picks[i] ?? 0) % from.length] ?? '';
    const codes = {
      symptom: pick(0, ['low-pressure', 'noisy']),
      cause: pick(1, ['impeller', 'sensor']),
      action: pick(2, ['replaced', 'adjusted']),
    };
    await this.plant.make('repair', `/v1/repairs/${repair.id}/closure`, codes);
    Object.assign(repair, { outcome: 'repaired', codes });
    motor.state = 'awaiting-test';
    return true;
  }

  private async retest(motor: Motor, repair: Repair | undefined): Promise<boolean> {
    await this.plant.make('quality', '/v1/retests', { motor: motor.serial, reason: 'Again' });
    if (motor.state === 'passed') motor.backAtMs = this.plant.now;
    if (repair) repair.outcome = 'no-fault-found';
    motor.state = 'awaiting-test';
    return true;
  }

  private async dispose(
    motor: Motor,
    repair: Repair | undefined,
    kind: 'concession' | 'scrap',
  ): Promise<boolean> {
    const body = { class: 'motor', unit: motor.serial, kind, reason: 'So decided' };
    await this.plant.make('quality', '/v1/dispositions', body);
    if (repair) repair.outcome = kind === 'scrap' ? 'scrapped' : 'concession';
    motor.state = kind === 'scrap' ? 'scrapped' : 'passed';
    return true;
  }
}

/** Since when a motor waits, and the failed run that it waits after; nothing where it does not. */
function standing(motor: Motor): { sinceMs: number; run: number | null } | undefined {
  const last = motor.runs.at(-1);
  const waits = motor.state === 'in-repair' || (motor.state === 'awaiting-test' && last);
  if (!waits) return undefined;
  const conceded = motor.repairs.some(
    (one) => one.runId === last?.id && one.outcome === 'concession',
  );
  if (last && last.failed.length > 0 && !conceded) return { sinceMs: last.atMs, run: last.id };
  return { sinceMs: last ? motor.backAtMs : (motor.repairs.at(-1)?.atMs ?? 0), run: null };
}

const ways = ['set', 'refuse', 'test', 'complain', 'close', 'retest', 'concede', 'scrap'];
/** Tests and closures come about more often than what ends a motor. */
const weighted = [...ways, 'set', 'test', 'test', 'test', 'close', 'close', 'close'];

describe('rework and steps beside a naive computation', () => {
  let plant: TestPlant;
  const naive = new Naive();
  const seen = new Map<string, number>();
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await order(plant, 100_000);
    for (const one of [
      { kind: 'symptom', code: 'noisy', name: 'Noisy signal' },
      { kind: 'cause', code: 'sensor', name: 'Sensor loose' },
      { kind: 'action', code: 'adjusted', name: 'Adjusted' },
    ]) {
      await plant.make('quality', '/v1/repair-codes', one);
    }
    // Nothing is said to have been before the plant.
    plant.wait(24 * HOUR_MS);
  });
  afterAll(() => plant.stop());

  const items = async (address: string): Promise<Line[]> => {
    const { body } = await plant.get('read', address);
    if (!body.items) throw new Error(`${address}: ${JSON.stringify(body)}`);
    return body.items;
  };

  /** The lines of an answer, cut to the members that the naive model computes. */
  async function compare(question: keyof typeof expected, window: Window): Promise<void> {
    const wanted: Line[] = expected[question](naive, window);
    const filters = new URLSearchParams(window as Record<string, string>).toString();
    const limit = question === 'motors' ? '&limit=1000' : '';
    const address = `/v1/rework/${question}${question.includes('?') ? '&' : '?'}${filters}${limit}`;
    const lines = await items(address);
    const members = Object.keys(wanted[0] ?? {});
    const cut = lines.map((line) => Object.fromEntries(members.map((name) => [name, line[name]])));
    expect([address, rounded(cut)]).toEqual([address, rounded(wanted)]);
  }

  async function compareWaiting(): Promise<void> {
    const wanted = naive.motors
      .flatMap((motor) => {
        const found = standing(motor);
        return found ? [{ id: motor.id, motor: motor.serial, ...found }] : [];
      })
      .sort((a, b) => a.sinceMs - b.sinceMs || a.id - b.id);
    const lines = await items('/v1/rework/waiting?limit=1000');
    expect(lines.map((one) => [one.motor, one.since, one.run])).toEqual(
      wanted.map((one) => [one.motor, new Date(one.sinceMs).toISOString(), one.run]),
    );
    const ages = await items('/v1/rework/waiting/ages');
    const hours = wanted.map((one) => (plant.now - one.sinceMs) / HOUR_MS);
    const bounds = [0, 4, 24, 72, 168, Infinity];
    expect(ages.map((one) => one.motors)).toEqual(
      bounds
        .slice(0, -1)
        .map((from, i) => hours.filter((h) => h >= from && h < (bounds[i + 1] ?? 0)).length),
    );
  }

  async function compareSteps(window: Window): Promise<void> {
    const days = new URLSearchParams({ ...window, cell: '' });
    days.delete('cell');
    const counted = naive.attempts.filter(({ day }) => within(Date.parse(day), window));
    const lines = await items(`/v1/yield/steps?${days}`);
    const steps = ['build record', 'paint inspection', 'set'];
    expect(
      lines.map((one) => [one.step, one.attempts, one.passes, one.later, one.laterPasses]),
    ).toEqual(
      steps.flatMap((step) => {
        const own = counted.filter((one) => one.step === step);
        const count = (later: boolean, passed?: true) =>
          own.filter((one) => one.later === later && (!passed || one.passed)).length;
        const counts = [count(false), count(false, true), count(true), count(true, true)];
        return own.length === 0 ? [] : [[step, ...counts]];
      }),
    );
    const refused = counted.filter((one) => one.step === 'set' && !one.passed).length;
    const reasons = await items(`/v1/yield/refused-sets?${days}`);
    expect(total(reasons.map((one) => Number(one.refusals)))).toBe(refused);
  }

  it('agree on every figure, whatever window and cell', async () => {
    const choice = fc.record({
      name: fc.noBias(fc.constantFrom(...weighted)),
      picks: fc.array(fc.nat({ max: 23 }), { minLength: 4, maxLength: 4 }),
      hours: fc.nat({ max: 30 }),
    });
    const life = fc.array(choice, { minLength: 20, maxLength: 30, size: 'max' });
    const cut = fc.tuple(fc.nat({ max: 12 }), fc.nat({ max: 12 }), fc.constantFrom('A', 'B', ''));
    await fc.assert(
      fc.asyncProperty(life, cut, async (choices, [before, length, cell]) => {
        const deeds = new Life(plant, naive, seen);
        for (const one of choices) await deeds.live(one);
        const untilMs = plant.now - before * 24 * HOUR_MS;
        const window: Window = {
          fromDay: dayOf(untilMs - length * 24 * HOUR_MS),
          untilDay: dayOf(untilMs),
          ...(cell === '' ? {} : { cell }),
        };
        for (const question of Object.keys(expected) as (keyof typeof expected)[]) {
          await compare(question, {});
          await compare(question, window);
        }
        await compareWaiting();
        await compareSteps({});
        await compareSteps(window);
      }),
      {
        numRuns: 10,
        endOnFailure: true,
        interruptAfterTimeLimit: 100_000,
        markInterruptAsFailure: true,
      },
    );
  }, 120_000);

  it('did everything that can be done, often enough', () => {
    expect(ways.filter((one) => (seen.get(one) ?? 0) < 3)).toEqual([]);
  });

  it('agree on the roll-up of the steps with a count over what it rolls up', () => {
    const db = new BetterSqlite3(plant.service.store.path, { readonly: true });
    const counted = db.prepare(`
      SELECT 'set' AS step, date(at_ms / 1000, 'unixepoch') AS day, station AS place,
             COUNT(*) AS attempts, SUM(outcome = 'set') AS passes, 0 AS later, 0 AS later_passes
      FROM set_attempts GROUP BY 1, 2, 3
      UNION ALL
      SELECT kind, date(at_ms / 1000, 'unixepoch'), '', SUM(first), SUM(first AND result = 'accepted'),
             SUM(NOT first), SUM(NOT first AND result = 'accepted')
      FROM (SELECT i.*, i.id = MIN(i.id) OVER (PARTITION BY i.unit_id) AS first FROM inspections i)
      GROUP BY 1, 2, 3
      ORDER BY 1, 2, 3`);
    const kept = db.prepare(`
      SELECT step, day, place, attempts, passes, later, later_passes
      FROM step_daily ORDER BY 1, 2, 3`);
    expect(kept.all()).toEqual(counted.all());
    expect(kept.all().length).toBeGreaterThan(50);
    db.close();
  });

  it('leave a file that follows from its journal', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
