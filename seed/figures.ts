import type { Caller } from './caller.js';

export interface FirstPassLine {
  slice: string;
  firstRuns: number;
  firstPasses: number;
  firstPassYield: number | null;
  lower: number | null;
  upper: number | null;
  completedRuns: number;
  passedRuns: number;
  abortedRuns: number;
}

export interface LoopsLine {
  loops: number;
  motors: number;
  passed: number;
}

export interface Attempt {
  outcome: string;
  detail: string;
}

export interface Run {
  id: number;
  motor: string;
  verdict: 'pass' | 'fail' | null;
  state: 'open' | 'completed' | 'aborted';
  cell: string;
  disagreement: boolean;
}

export interface Repair {
  id: number;
  motor: string;
  outcome: string | null;
}

export interface Hold {
  class: string;
  serial: string;
  cause: string;
  reason: string;
  liftedAt: string | null;
}

/** What the service answers when it is asked about the shift. */
export interface Figures {
  attempts: Attempt[];
  motorsByState: Map<string, number>;
  yieldByModel: FirstPassLine[];
  loops: LoopsLine[];
  runs: Run[];
  takenOver: number;
  repairs: Repair[];
  holds: Hold[];
  releasedMotors: string[];
  teardowns: Teardown[];
}

/** A motor that was taken apart, and what its powerhead is in now. */
export interface Teardown {
  motor: string;
  setAgainAs: string;
}

/** Reads the shift's figures back, by questions that any key may ask. */
export async function readFigures(reader: Caller): Promise<Figures> {
  const motors = await reader.askAll<{ serial: string; state: string }>('/v1/units?class=motor');
  const tornDown = motors.filter((motor) => motor.state === 'torn-down');
  const events = await reader.askAll<{ kind: string }>('/v1/events');
  const releases = await reader.askAll<{ motor: string }>('/v1/releases');
  const { items: yieldByModel } = await reader.ask<{ items: FirstPassLine[] }>(
    '/v1/yield/first-pass?by=model',
  );
  const { items: loops } = await reader.ask<{ items: LoopsLine[] }>('/v1/yield/rework-loops');
  return {
    attempts: await reader.askAll<Attempt>('/v1/set-attempts'),
    motorsByState: countBy(motors, (motor) => motor.state),
    yieldByModel,
    loops,
    runs: await reader.askAll<Run>('/v1/runs'),
    takenOver: events.filter((event) => event.kind === 'run.resumed').length,
    repairs: await reader.askAll<Repair>('/v1/repairs'),
    holds: await reader.askAll<Hold>('/v1/holds'),
    releasedMotors: releases.map((release) => release.motor),
    teardowns: await Promise.all(tornDown.map((motor) => followTeardown(reader, motor.serial))),
  };
}

interface TornHistory {
  motor: string | null;
  sets: { at: string }[];
  tree: { class: string; serial: string }[];
}

/** Finds the powerhead that was in the motor when it was set, and asks where it is now. */
async function followTeardown(reader: Caller, motor: string): Promise<Teardown> {
  const path = `/v1/history?class=motor&serial=${motor}`;
  const { sets } = await reader.ask<TornHistory>(path);
  const asSet = await reader.ask<TornHistory>(`${path}&asOf=${sets[0]?.at}`);
  const powerhead = asSet.tree.find((node) => node.class === 'powerhead')?.serial;
  const now = await reader.ask<TornHistory>(`/v1/history?class=powerhead&serial=${powerhead}`);
  return { motor, setAgainAs: now.motor ?? 'nothing yet' };
}

/** How many items there are of each kind, the most frequent first. */
export function countBy<T>(items: readonly T[], kindOf: (item: T) => string): Map<string, number> {
  const counts = new Map<string, number>();
  for (const item of items) counts.set(kindOf(item), (counts.get(kindOf(item)) ?? 0) + 1);
  return new Map([...counts].sort(([a, m], [b, n]) => n - m || a.localeCompare(b)));
}
