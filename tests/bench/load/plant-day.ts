import { setTimeout as sleep } from 'node:timers/promises';
import {
  COMPONENT_CLASSES,
  FASTENING,
  LOT_PART,
  LOWER_UNIT,
  MODEL,
  POWERHEAD,
} from '../support/plant.js';
import { type PostedReading, readingsOf, repeatable } from '../support/readings.js';
import type { Caller } from './client.js';

/**
 * A large plant's peak, ten times over. The plant: 60 motors an hour and 20 test cells, so a
 * motor is in its cell for 20 minutes. Ten times that: a motor every 6 seconds and 200 cells.
 * A cell posts a batch of readings every 5 seconds: 40 a second. A motor is some 11 commands
 * and 4 questions more (three components, two halves, check, next order, set, start,
 * completion, gate, release; one in ten a repair and a second run): 2.5 a second. People at
 * twenty times one question each 4 seconds: 5 a second. Together about 48 requests a second.
 */
export const TIMES = 10;
export const MOTORS_AN_HOUR = 60 * TIMES;
export const CELLS = 20 * TIMES;
export const RUN_MS = (CELLS / MOTORS_AN_HOUR) * 60 * 60 * 1000;
const BATCH_EVERY_MS = 5_000;
const READINGS_A_BATCH = 2;
const QUESTION_EVERY_MS = 200;
const FAILING_SHARE = 0.1;
const STATIONS = 3 * TIMES;
export const ORDER = 'LOAD';

/** What the plant's parts hand to each other. */
export class Floor {
  readonly #random = repeatable(13);
  readonly waiting: string[] = [];
  readonly known: string[] = [];
  isOpen = true;
  motors = 0;
  runs = 0;
  releases = 0;

  random(): number {
    return this.#random();
  }

  any(of: readonly string[]): string {
    return of[Math.floor(this.random() * of.length)] ?? '';
  }

  /** Waits, unless the floor closes; says whether it is open still. */
  async pause(ms: number): Promise<boolean> {
    const until = performance.now() + ms;
    while (this.isOpen && performance.now() < until) {
      await sleep(Math.min(500, until - performance.now()));
    }
    return this.isOpen;
  }
}

/** The lines that meet at powerhead set: a motor whenever one is due. */
export async function runLines(floor: Floor, caller: Caller): Promise<void> {
  const every = 3_600_000 / MOTORS_AN_HOUR;
  const building: Promise<void>[] = [];
  do {
    floor.motors += 1;
    building.push(buildMotor(floor, caller, floor.motors));
  } while (await floor.pause(every));
  await Promise.all(building);
}

async function buildMotor(floor: Floor, caller: Caller, n: number): Promise<void> {
  const components = COMPONENT_CLASSES.map((code) => ({ class: code, serial: `${code}-L${n}` }));
  for (const component of components) {
    const part = { number: component.class, revision: 'A' };
    await caller.post('/v1/units', { ...component, part, inspection: { result: 'accepted' } });
  }
  const lots = [{ part: LOT_PART.number, revision: LOT_PART.revision, lot: `LOT-${n >> 5}` }];
  const common = { inspection: { result: 'accepted' }, fastenings: [FASTENING], lots };
  const powerhead = { class: 'powerhead', serial: `PL${n}`, part: POWERHEAD, components };
  const lowerUnit = { class: 'lower-unit', serial: `LL${n}`, part: LOWER_UNIT };
  await caller.post('/v1/units', { ...common, ...powerhead });
  await caller.post('/v1/units', { ...common, ...lowerUnit });
  const pair = { powerhead: powerhead.serial, lowerUnit: lowerUnit.serial, order: ORDER };
  const station = `SET-${(n % STATIONS) + 1}`;
  await caller.get('/v1/orders/next');
  await caller.get(`/v1/sets/check?${new URLSearchParams(pair)}`);
  const { motor } = await caller.post<{ motor: string }>('/v1/sets', { ...pair, station });
  floor.waiting.push(motor);
  floor.known.push(motor);
}

/**
 * A test cell: one run after the other, a batch every five seconds.
 * @param begun a run that it has begun before, and how much of it is left
 */
export async function runCell(
  floor: Floor,
  caller: Caller,
  cell: string,
  begun: { motor: string; run: number; leftMs: number },
): Promise<void> {
  let { leftMs } = begun;
  let now: { motor: string; run: number } | undefined = begun;
  let sequence = 0;
  // Cells beat each in its own time.
  await floor.pause(floor.random() * BATCH_EVERY_MS);
  while (await floor.pause(BATCH_EVERY_MS)) {
    if (!now) {
      now = await nextRun(floor, caller, cell);
      leftMs = RUN_MS;
      sequence = 0;
      continue;
    }
    sequence += 1;
    leftMs -= BATCH_EVERY_MS;
    const conforms = floor.random() >= FAILING_SHARE;
    const readings = readingsOf(() => floor.random(), conforms);
    if (leftMs > 0) await postBatch(caller, now.run, sequence, readings);
    else {
      await complete(floor, caller, now, readings);
      now = undefined;
    }
  }
}

async function nextRun(floor: Floor, caller: Caller, cell: string) {
  const motor = floor.waiting.shift();
  if (motor === undefined) return undefined;
  const { id } = await caller.post<{ id: number }>('/v1/runs', { motor, cell });
  return { motor, run: id };
}

function postBatch(
  caller: Caller,
  run: number,
  sequence: number,
  readings: readonly PostedReading[],
): Promise<unknown> {
  const from = (sequence * READINGS_A_BATCH) % readings.length;
  const batch = { sequence, readings: readings.slice(from, from + READINGS_A_BATCH) };
  return caller.post(`/v1/runs/${run}/batches`, batch);
}

async function complete(
  floor: Floor,
  caller: Caller,
  { motor, run }: { motor: string; run: number },
  readings: readonly PostedReading[],
): Promise<void> {
  const { verdict, repair } = await caller.post<{ verdict: string; repair: number | null }>(
    `/v1/runs/${run}/completion`,
    { readings },
  );
  floor.runs += 1;
  if (verdict === 'fail') {
    await caller.post(`/v1/repairs/${repair}/closure`, {
      ...{ symptom: 'low-voltage', cause: 'connector', action: 'replaced' },
    });
    floor.waiting.push(motor);
    return;
  }
  await caller.get(`/v1/release-gate?motor=${motor}`);
  await caller.post('/v1/releases', { motors: [motor] });
  floor.releases += 1;
}

/** People who ask, whenever a question is due, and whether or not the last is answered. */
export async function askQuestions(floor: Floor, caller: Caller): Promise<void> {
  const open: Promise<unknown>[] = [];
  do {
    open.push(caller.get(questionOf(floor)));
  } while (await floor.pause(QUESTION_EVERY_MS));
  await Promise.all(open);
}

function questionOf(floor: Floor): string {
  const motor = floor.any(floor.known);
  const questions = [
    `/v1/history?serial=${motor}`,
    `/v1/tree?serial=${motor}`,
    `/v1/release-gate?motor=${motor}`,
    '/v1/yield/first-pass?by=cell',
    '/v1/orders/next',
    '/v1/runs?state=open&limit=50',
    '/v1/units?class=motor&state=passed&limit=20',
    '/v1/signals',
  ];
  return floor.any(questions);
}

const REPORT_EVERY_MS = 500;

/** Long questions, half a second after the last one's answer: reports that are always running. */
export async function askReports(floor: Floor, caller: Caller): Promise<void> {
  const of = `model=${MODEL}`;
  const margin = { margin: { model: MODEL, code: 'idle-voltage', below: 0.1 } };
  const where = { all: [margin, { not: { station: { name: 'SET-2' } } }] };
  const reports = [
    () => caller.get('/v1/yield/rework-loops'),
    () => caller.get(`/v1/capability?${of}&characteristic=idle-water-pressure`),
    () => caller.get('/v1/rework/pareto?of=characteristic'),
    () => caller.get(`/v1/cells/comparison?${of}&characteristic=idle-voltage`),
    () => caller.post('/v1/where-used', { where }),
    () => caller.get('/v1/yield/steps'),
    () => caller.get(`/v1/report?serial=${floor.any(floor.known)}`),
  ];
  for (let i = 0; await floor.pause(REPORT_EVERY_MS); i += 1) await reports[i % reports.length]?.();
}
