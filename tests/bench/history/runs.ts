import { NO_SHIFT } from '../../../src/calendar/rules.js';
import { RUNS_A_BLOCK } from '../../../src/series/block.js';
import type { JudgedRunRow } from '../../../src/series/records.js';
import { plantDay } from '../../../src/time.js';
import { NOTHING, type YieldKey } from '../../../src/yield/records.js';
import { settings } from '../support/plant.js';
import { READINGS_A_RUN } from '../support/readings.js';
import { type Builder, MINUTE, type Motor } from './builder.js';
import type { SampleRun } from './catalogue.js';
import { KEY } from './journal.js';

/** Writes a failed first run and the repair that it opens and that is closed. */
export function writeFailure(builder: Builder, motor: Motor): void {
  const { tables, journal, catalogue } = builder;
  builder.repairs += 1;
  const id = builder.repairs;
  const sample = pick(catalogue.failing, motor.index);
  const complaint = `Failed the hot test: ${sample.failed.join(', ')}`;
  const runId = writeRun(builder, motor, 1, sample, { id, complaint });
  const openedAt = endOf(motor, 1);
  const atMs = openedAt + 30 * MINUTE;
  const codes = ['low-voltage', 'connector', 'replaced'] as const;
  const [symptom, cause, action] = codes;
  tables.repairs.add(id, motor.id, runId, openedAt, complaint, atMs, 'repaired', ...codes, KEY);
  journal.add(
    'repair.closed',
    { id, motorId: motor.id, symptom, cause, action, note: null },
    { units: [motor.id], atMs, station: 'REPAIR-1' },
  );
}

/** Writes a passed run; returns its id. */
export function writePass(builder: Builder, motor: Motor, attempt: number): number {
  return writeRun(builder, motor, attempt, pick(builder.catalogue.passing, motor.index), null);
}

function pick(samples: readonly SampleRun[], index: number): SampleRun {
  const sample = samples[index % samples.length];
  if (!sample) throw new Error('there are no sample runs');
  return sample;
}

/** When an attempt ended: two hours lie between two attempts. */
function endOf(motor: Motor, attempt: number): number {
  return motor.atMs + (attempt * 120 - 90) * MINUTE;
}

function writeRun(
  builder: Builder,
  motor: Motor,
  attempt: number,
  sample: SampleRun,
  repair: { id: number; complaint: string } | null,
): number {
  const { tables, journal, catalogue } = builder;
  builder.runs += 1;
  const id = builder.runs;
  const { id: motorId, cell, station } = motor;
  const { specificationId, modelId, configurationId } = catalogue;
  const endedAt = endOf(motor, attempt);
  const startedAt = endedAt - 10 * MINUTE;
  const verdict = repair ? 'fail' : 'pass';
  const firstPass = attempt === 1 ? verdict === 'pass' : null;
  const day = plantDay(endedAt, settings.timeZone);
  const { packed, judged, digest, failedIds } = sample;
  const outcome = [attempt, verdict, firstPass === null ? null : Number(firstPass), verdict, 0];
  tables.runs.add(
    id,
    motorId,
    specificationId,
    cell,
    'completed',
    startedAt,
    endedAt,
    ...outcome,
    KEY,
    judged,
    day,
    NO_SHIFT,
  );
  tables.reading_batches.add(id, 1, endedAt, packed);
  const passed = verdict === 'pass';
  addToSeries(builder, {
    runId: id,
    endedAtMs: endedAt,
    cell,
    attempt,
    passed,
    firstPass: attempt === 1 && passed,
    judged,
  });
  for (const failedId of failedIds) tables.run_failures.add(id, failedId);
  const counted: YieldKey = { day, shift: null, modelId, configurationId, cell, station };
  count(builder, counted, firstPass, failedIds.length);
  if (attempt === 1) {
    const place = [modelId, configurationId, cell, station, NO_SHIFT];
    // Every motor passes in the end.
    tables.yield_motors.add(day, motorId, id, ...place, Number(firstPass), 1);
  }
  const about = { units: [motorId], station: cell };
  journal.add('run.started', { id, motorId, specificationId, cell }, { ...about, atMs: startedAt });
  journal.add(
    'run.completed',
    {
      id,
      motorId,
      specificationId,
      batch: { sequence: 1, measuredAtMs: endedAt, count: READINGS_A_RUN, digest },
      attempt,
      verdict,
      firstPass,
      cellVerdict: verdict,
      disagreement: false,
      failedIds,
      repair,
      counted,
    },
    { ...about, atMs: endedAt },
  );
  return id;
}

function addToSeries({ series, recent, catalogue }: Builder, run: JudgedRunRow): void {
  recent.push(run);
  if (recent.length === RUNS_A_BLOCK) series.addBlock(catalogue.specificationId, recent.splice(0));
}

/** `firstPass` is null for a second run, which passes, so that every motor does in the end. */
function count(
  { counts }: Builder,
  key: YieldKey,
  firstPass: boolean | null,
  defects: number,
): void {
  const name = `${key.day} ${key.cell} ${key.station}`;
  const line = counts.get(name) ?? { key, counts: { ...NOTHING } };
  const sum = line.counts;
  sum.completedRuns += 1;
  sum.defects += defects;
  if (firstPass !== false) sum.passedRuns += 1;
  if (firstPass !== null) {
    sum.firstRuns += 1;
    sum.finallyPassed += 1;
    sum.firstDefects += defects;
    if (firstPass) sum.firstPasses += 1;
    else sum.reworked += 1;
  }
  counts.set(name, line);
}
