import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Database } from 'better-sqlite3';
import fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { packageFile } from '../../src/package-root.js';
import { connectPlant, type Plant } from '../../src/plant.js';
import { openWriter } from '../../src/store/open.js';
import { countAbort, countCompletion } from '../../src/yield/count.js';
import { firstPassYield, motorsBehind, runsBehind, yieldPage } from '../../src/yield/questions.js';
import type { YieldKey } from '../../src/yield/records.js';
import { addDays, isoWeek, monthOf } from '../../src/yield/rules.js';
import { firstPassQuery, motorsQuery, runsQuery } from '../../src/yield/schema.js';

/** A run as the naive model keeps it. */
interface Run {
  motor: number;
  key: YieldKey;
  passed: boolean | null;
  /** Whether the motor was repaired before its first completed run. */
  repaired: boolean;
  defects: number;
}

const first = '2026-01-20';
// From three motors, cells and so on, so that keys meet; days over three months.
const key: fc.Arbitrary<YieldKey> = fc
  .record({
    day: fc.nat({ max: 75 }).map((days) => addDays(first, days)),
    configurationId: fc.integer({ min: 1, max: 4 }),
    cell: fc.constantFrom('C-1', 'C-2'),
    station: fc.constantFrom('S-1', 'S-2'),
    shift: fc.constantFrom('early', 'late', null, undefined),
  })
  .map(({ shift, configurationId, ...rest }) => ({
    ...rest,
    configurationId,
    modelId: modelOf(configurationId),
    // Old events have no such member.
    ...(shift === undefined ? {} : { shift }),
  }));

/** Configurations 1 and 2 are revisions of one code; 3 is of the same model, 4 of the other. */
const configurations = ['A 1', 'A 2', 'B 1', 'C 1'];
const modelOf = (configurationId: number) => (configurationId === 4 ? 2 : 1);
const modelCode = (id: number) => `M${id}`;

const run: fc.Arbitrary<Run> = fc.record({
  motor: fc.integer({ min: 1, max: 6 }),
  key,
  passed: fc.constantFrom(true, true, false, null),
  repaired: fc.constantFrom(false, false, true),
  defects: fc.integer({ min: 1, max: 3 }),
});

const day = fc.nat({ max: 90 }).map((days) => addDays('2026-01-15', days));
const maybe = <T>(value: fc.Arbitrary<T>): fc.Arbitrary<T | undefined> =>
  fc.oneof({ weight: 3, arbitrary: fc.constant(undefined) }, { weight: 1, arbitrary: value });
const filter = {
  fromDay: fc.option(fc.oneof(day, fc.constantFrom('2026-02-01', '2026-03-01')), {
    nil: undefined,
    freq: 2,
  }),
  untilDay: fc.option(fc.oneof(day, fc.constantFrom('2026-01-31', '2026-02-28', '2026-03-31')), {
    nil: undefined,
    freq: 2,
  }),
  model: maybe(fc.constantFrom('M1', 'M2', 'M9')),
  configuration: maybe(fc.constantFrom('A', 'A 2', 'B', 'B 9', 'C 1')),
  cell: maybe(fc.constantFrom('C-1', 'C-2')),
  station: maybe(fc.constantFrom('S-1', 'S-2')),
  shift: maybe(fc.constantFrom('early', 'late', 'none')),
};
const bys = [
  'model',
  'configuration',
  'cell',
  'station',
  'shift',
  'day',
  'week',
  'month',
  'plant',
] as const;
const defined = (query: object) =>
  Object.fromEntries(Object.entries(query).filter(([, value]) => value !== undefined));
const query = fc
  .record({ ...filter, by: fc.constantFrom(...bys, 'week', 'month') })
  .map((one) => firstPassQuery.parse(defined(one)));

const sliceOf: Record<(typeof bys)[number], (one: YieldKey) => string> = {
  model: (one) => modelCode(one.modelId),
  configuration: (one) => configurations[one.configurationId - 1] ?? '',
  cell: (one) => one.cell,
  station: (one) => one.station,
  shift: (one) => one.shift ?? 'none',
  day: (one) => one.day,
  week: (one) => isoWeek(one.day),
  month: (one) => monthOf(one.day),
  plant: () => 'plant',
};

/** Whether a key is one of those asked for, member by member. */
function isAskedFor(one: YieldKey, asked: Record<string, unknown>): boolean {
  const configuration = sliceOf.configuration(one);
  return (
    one.day >= String(asked.fromDay ?? one.day) &&
    one.day <= String(asked.untilDay ?? one.day) &&
    (asked.model ?? modelCode(one.modelId)) === modelCode(one.modelId) &&
    [undefined, configuration, configuration.split(' ')[0]].includes(
      asked.configuration as string | undefined,
    ) &&
    (asked.cell ?? one.cell) === one.cell &&
    (asked.station ?? one.station) === one.station &&
    (asked.shift ?? sliceOf.shift(one)) === sliceOf.shift(one)
  );
}

const names = [
  'firstRuns',
  'firstPasses',
  'finallyPassed',
  'reworked',
  'completedRuns',
  'passedRuns',
  'firstDefects',
  'defects',
  'abortedRuns',
] as const;
type Counts = Record<(typeof names)[number], number>;

/** The counts by slice, run by run, as the words of each figure say. */
function naive(runs: readonly Run[], by: (typeof bys)[number], asked: Record<string, unknown>) {
  const slices = new Map<string, Counts>();
  const add = (one: YieldKey, name: keyof Counts, more: number) => {
    if (!isAskedFor(one, asked)) return;
    const slice = sliceOf[by](one);
    const counts =
      slices.get(slice) ?? (Object.fromEntries(names.map((name) => [name, 0])) as Counts);
    counts[name] += more;
    slices.set(slice, counts);
  };
  for (const one of runs) {
    if (one.passed === null) {
      add(one.key, 'abortedRuns', 1);
      continue;
    }
    add(one.key, 'completedRuns', 1);
    if (one.passed) add(one.key, 'passedRuns', 1);
    else add(one.key, 'defects', one.defects);
  }
  for (const own of motorsOf(runs)) {
    const [start] = own;
    const passes = own.at(-1)?.passed === true;
    const firstPass = start.passed && !start.repaired;
    add(start.key, 'firstRuns', 1);
    if (!start.passed) add(start.key, 'firstDefects', start.defects);
    if (firstPass) add(start.key, 'firstPasses', 1);
    if (passes) add(start.key, 'finallyPassed', 1);
    if (passes && !firstPass) add(start.key, 'reworked', 1);
  }
  if (by === 'plant' && slices.size === 0) {
    slices.set('plant', Object.fromEntries(names.map((name) => [name, 0])) as Counts);
  }
  return slices;
}

/** The completed runs of each motor that has any. */
function motorsOf(runs: readonly Run[]): [Run, ...Run[]][] {
  return [1, 2, 3, 4, 5, 6]
    .map((motor) => runs.filter((one) => one.motor === motor && one.passed !== null))
    .filter((own): own is [Run, ...Run[]] => own.length > 0);
}

describe('the roll-up and a naive count', () => {
  let folder: string;
  let db: Database;
  let plant: Plant;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'skeg-yield-'));
    db = openWriter(join(folder, 'skeg.db'), packageFile('migrations'));
    db.pragma('foreign_keys = OFF');
    db.pragma('synchronous = OFF');
    plant = connectPlant(db);
    const model = db.prepare("INSERT INTO models VALUES (?, ?, 'Model', 100, '{}')");
    for (const id of [1, 2]) model.run(id, modelCode(id));
    const configuration = db.prepare(`
      INSERT INTO configurations
      VALUES (?, ?, ?, ?, 0, 'P', NULL, 'L', NULL, '{}', 'approved', 1, ?, 1, 1, 2, 1)`);
    for (const [i, name] of configurations.entries()) {
      const [code, revision] = name.split(' ');
      configuration.run(i + 1, code, Number(revision), modelOf(i + 1), i + 1);
    }
  });
  beforeEach(() => {
    for (const table of ['yield_counts', 'yield_motors', 'run_failures', 'runs', 'sets', 'units']) {
      db.exec(`DELETE FROM ${table}`);
    }
  });
  afterAll(() => {
    db.close();
    rmSync(folder, { recursive: true, force: true });
  });

  function count(runs: readonly Run[]): void {
    const unit = db.prepare("INSERT INTO units VALUES (?, 'motor', ?, NULL, 1, '{}', 'passed', 1)");
    for (const motor of [1, 2, 3, 4, 5, 6]) unit.run(motor, `T${motor}`);
    const stored = db.prepare(`
      INSERT INTO runs
        (id, motor_id, specification_id, cell, state, started_at_ms, ended_at_ms, attempt,
         verdict, first_pass, disagreement, started_by, judged, counted_day, counted_shift)
      VALUES (?, ?, 1, ?, 'completed', 1, 2, ?, ?, ?, 0, 1, x'00', ?, ?)`);
    const aborted = db.prepare(`
      INSERT INTO runs
        (id, motor_id, specification_id, cell, state, started_at_ms, ended_at_ms,
         disagreement, abort_reason, started_by, counted_day, counted_shift)
      VALUES (?, ?, 1, ?, 'aborted', 1, 2, 0, 'no fuel', 1, ?, ?)`);
    const failure = db.prepare('INSERT INTO run_failures VALUES (?, ?)');
    const attempts = new Map<number, number>();
    for (const [i, one] of runs.entries()) {
      if (one.passed === null) {
        countAbort(plant, one.key);
        aborted.run(i + 1, one.motor, one.key.cell, one.key.day, one.key.shift ?? 'none');
        continue;
      }
      const attempt = (attempts.get(one.motor) ?? 0) + 1;
      attempts.set(one.motor, attempt);
      const verdict = one.passed ? 'pass' : 'fail';
      const firstPass = attempt === 1 ? one.passed && !one.repaired : null;
      const flag = firstPass === null ? null : Number(firstPass);
      const { cell, day, shift = null } = one.key;
      stored.run(i + 1, one.motor, cell, attempt, verdict, flag, day, shift ?? 'none');
      for (let n = 1; n <= one.defects && !one.passed; n += 1) failure.run(i + 1, n);
      countCompletion(plant, {
        id: i + 1,
        motorId: one.motor,
        attempt,
        verdict,
        firstPass,
        defects: one.passed ? 0 : one.defects,
        counted: one.key,
      });
    }
  }

  /** Counts in a transaction that is undone, since SQLite would sync each command. */
  const counted = (runs: readonly Run[], check: () => void) => {
    db.exec('BEGIN');
    try {
      count(runs);
      check();
    } finally {
      db.exec('ROLLBACK');
    }
  };
  const runs = fc.array(run, { minLength: 1, maxLength: 25 });

  it('agree on every figure of any question', () => {
    fc.assert(
      fc.property(runs, fc.array(query, { minLength: 8, maxLength: 8 }), (all, questions) => {
        counted(all, () => {
          for (const asked of questions) {
            const lines = firstPassYield(plant, asked);
            const found = lines.map((line) => [
              line.slice,
              Object.fromEntries(names.map((name) => [name, line[name]])),
            ]);
            const expected = [...naive(all, asked.by ?? 'model', asked)].sort(([a], [b]) =>
              a < b ? -1 : 1,
            );
            expect(found).toEqual(expected);
          }
        });
      }),
      { numRuns: 150 },
    );
  });

  it('give the same lines page by page', () => {
    fc.assert(
      fc.property(runs, query, fc.integer({ min: 1, max: 4 }), (all, asked, limit) => {
        counted(all, () => {
          const found = [];
          let after: string | null = null;
          for (;;) {
            const { items, last } = yieldPage(plant, { query: asked, after, limit });
            expect(items.length).toBeLessThanOrEqual(limit);
            found.push(...items);
            if (last === null) break;
            after = String(last[0]);
          }
          expect(found).toEqual(firstPassYield(plant, asked));
        });
      }),
      { numRuns: 150 },
    );
  });

  /** Runs of motors that were each set once, at one station after one configuration. */
  const runsOfSets = runs.map((all) =>
    all.map((one) => ({
      ...one,
      key: {
        ...one.key,
        configurationId: (one.motor % 4) + 1,
        modelId: modelOf((one.motor % 4) + 1),
        station: `S-${(one.motor % 2) + 1}`,
      },
    })),
  );

  it('agree on the runs behind every line, page by page', () => {
    fc.assert(
      fc.property(runsOfSets, query, fc.integer({ min: 1, max: 4 }), (all, asked, limit) => {
        counted(all, () => {
          const set = db.prepare(`
            INSERT INTO sets
              (motor_id, powerhead_id, lower_unit_id, order_id, configuration_id, station,
               key_id, at_ms)
            VALUES (?, ?, ?, 1, ?, ?, 1, 1)`);
          const model = db.prepare('UPDATE units SET model_id = ? WHERE id = ?');
          for (const { motor, key } of new Map(all.map((one) => [one.motor, one])).values()) {
            model.run(key.modelId, motor);
            set.run(motor, motor + 100, motor + 200, key.configurationId, key.station);
          }
          for (const line of firstPassYield(plant, asked)) {
            const link = new URL(line.runsLink, 'http://plant');
            const members = Object.fromEntries(link.searchParams);
            const behind = (outcome?: string) => {
              const own = runsQuery.parse({ ...members, ...(outcome ? { outcome } : {}) });
              const found: ReturnType<typeof runsBehind> = [];
              let after: { day: string; runId: number } | null = null;
              for (;;) {
                const rows = runsBehind(plant, { query: own, after, limit });
                found.push(...rows);
                after = rows.at(-1) ?? null;
                if (rows.length < limit) return found;
              }
            };
            const expected = all
              .map((one, i) => ({ ...one, id: i + 1 }))
              .filter(({ key: own }) => isAskedFor(own, members))
              .sort((a, b) =>
                a.key.day === b.key.day ? a.id - b.id : a.key.day < b.key.day ? -1 : 1,
              );
            expect(behind().map((one) => one.runId)).toEqual(expected.map(({ id }) => id));
            expect(behind('completed')).toHaveLength(line.completedRuns);
            expect(behind('passed')).toHaveLength(line.passedRuns);
            expect(behind('failed')).toHaveLength(line.completedRuns - line.passedRuns);
            expect(behind('aborted')).toHaveLength(line.abortedRuns);
            expect(behind().reduce((sum, one) => sum + one.defects, 0)).toBe(line.defects);
          }
        });
      }),
      { numRuns: 200 },
    );
  });

  it('agree on the motors behind every line, page by page', () => {
    fc.assert(
      fc.property(runs, query, fc.integer({ min: 1, max: 4 }), (all, asked, limit) => {
        counted(all, () => {
          for (const line of firstPassYield(plant, asked)) {
            const link = new URL(line.link, 'http://plant');
            const members = Object.fromEntries(link.searchParams);
            const behind = (outcome?: string) => {
              const own = motorsQuery.parse({ ...members, ...(outcome ? { outcome } : {}) });
              const found: string[] = [];
              let after: { day: string; motorId: number } | null = null;
              for (;;) {
                const rows = motorsBehind(plant, { query: own, after, limit });
                found.push(...rows.map((row) => row.serial));
                after = rows.at(-1) ?? null;
                if (rows.length < limit) return found;
              }
            };
            const expected = motorsOf(all)
              .filter(([start]) => isAskedFor(start.key, members))
              .sort(([a], [b]) =>
                a.key.day === b.key.day ? a.motor - b.motor : a.key.day < b.key.day ? -1 : 1,
              )
              .map(([start]) => `T${start.motor}`);
            expect(behind()).toEqual(expected);
            expect(expected).toHaveLength(line.firstRuns);
            expect(behind('first-pass')).toHaveLength(line.firstPasses);
            expect(behind('finally-passed')).toHaveLength(line.finallyPassed);
            expect(behind('reworked')).toHaveLength(line.reworked);
            expect(behind('not-first-pass')).toHaveLength(line.firstRuns - line.firstPasses);
            expect(behind('not-finally-passed')).toHaveLength(line.firstRuns - line.finallyPassed);
          }
        });
      }),
      { numRuns: 400 },
    );
  });

  it('agree on the loops that motors went through', () => {
    fc.assert(
      fc.property(runs, maybe(day), maybe(day), (all, fromDay, untilDay) => {
        counted(all, () => {
          const loops = new Map<number, { motors: number; passed: number }>();
          for (const own of motorsOf(all)) {
            if (!isAskedFor(own[0].key, { fromDay, untilDay })) continue;
            const line = loops.get(own.length - 1) ?? { motors: 0, passed: 0 };
            line.motors += 1;
            line.passed += own.at(-1)?.passed ? 1 : 0;
            loops.set(own.length - 1, line);
          }
          const days = { fromDay: fromDay ?? null, untilDay: untilDay ?? null };
          const expected = [...loops]
            .sort(([a], [b]) => a - b)
            .map(([n, line]) => ({ loops: n, ...line }));
          expect(plant.yield.loops(days)).toEqual(expected);
        });
      }),
    );
  });
});
