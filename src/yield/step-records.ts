import type { Database } from 'better-sqlite3';
import type { StepCounts } from './step-rules.js';

/** Where and when a step counts; the place is nothing where no station was named. */
export interface StepKey {
  day: string;
  step: string;
  place: string;
}

export type StepSlice = 'step' | 'station' | 'day';

export interface StepFilter {
  fromDay: string;
  untilDay: string;
  step: string | null;
  station: string | null;
}

export interface StepSum extends StepCounts {
  step: string;
  /** The station or the day; nothing by step, and where no station was named. */
  slice: string;
}

export interface RefusalFilter {
  fromMs: number;
  untilMs: number;
  reason: string | null;
  station: string | null;
}

export interface InspectedFilter {
  /** Null for any. */
  step: string | null;
  fromMs: number;
  untilMs: number;
  result: string | null;
  /** 1 for first inspections of a unit, 0 for later ones, null for both. */
  first: number | null;
  station: string | null;
}

export interface InspectedRow {
  id: number;
  class: string;
  serial: string;
  result: 'accepted' | 'rejected';
  first: number;
  station: string | null;
  atMs: number;
}

/** The steps' SQL on one connection. */
export function stepRecords(db: Database) {
  const count = db.prepare(`
    INSERT INTO step_daily (day, step, place, attempts, passes, later, later_passes)
    VALUES (@day, @step, @place, @attempts, @passes, @later, @laterPasses)
    ON CONFLICT DO UPDATE SET
      attempts = attempts + excluded.attempts,
      passes = passes + excluded.passes,
      later = later + excluded.later,
      later_passes = later_passes + excluded.later_passes`);
  const sums = {
    step: prepareSums(db, "''"),
    station: prepareSums(db, 'place'),
    day: prepareSums(db, 'day'),
  };
  return {
    countStep: (key: StepKey, counts: StepCounts) => void count.run({ ...key, ...counts }),
    stepSums: (by: StepSlice, filter: StepFilter) => sums[by].all(filter),
    ...attemptStatements(db),
    ...inspectedStatements(db),
  };
}

// Reads step_daily by its primary key's first column.
function prepareSums(db: Database, slice: string) {
  return db.prepare<[StepFilter], StepSum>(`
    SELECT step,
           ${slice} AS slice,
           SUM(attempts) AS attempts,
           SUM(passes) AS passes,
           SUM(later) AS later,
           SUM(later_passes) AS laterPasses
    FROM step_daily
    WHERE day >= @fromDay AND day <= @untilDay
      AND (@step IS NULL OR step = @step)
      AND (@station IS NULL OR place = @station)
    GROUP BY 1, 2
    ORDER BY 1, 2`);
}

function attemptStatements(db: Database) {
  // A long question: asked in a worker only. It reads set_attempts_refused.
  const refused = (category: 'outcome' | 'station') =>
    db.prepare<[RefusalFilter], { category: string; refusals: number }>(`
      SELECT ${category} AS category, COUNT(*) AS refusals
      FROM set_attempts
      WHERE outcome <> 'set'
        AND at_ms >= @fromMs AND at_ms < @untilMs
        AND (@reason IS NULL OR outcome = @reason)
        AND (@station IS NULL OR station = @station)
      GROUP BY 1`);
  const refusedBy = { reason: refused('outcome'), station: refused('station') };
  return {
    /** Refused sets by the slug of their problem, or by station. */
    refusedSets: (by: 'reason' | 'station', filter: RefusalFilter) => refusedBy[by].all(filter),
  };
}

function inspectedStatements(db: Database) {
  // A long question: reads every inspection. An inspection bears the time of its event, where
  // its station stands; the event of a unit that was entered is also about what is in the unit.
  const inspected = db.prepare<
    [InspectedFilter & { afterId: number; limit: number }],
    InspectedRow
  >(`
    SELECT * FROM (
      SELECT i.id,
             u.class,
             u.serial,
             i.result,
             i.at_ms AS atMs,
             NOT EXISTS (
               SELECT 1 FROM inspections x WHERE x.unit_id = i.unit_id AND x.id < i.id
             ) AS first,
             (SELECT e.station
              FROM event_units x
              JOIN events e ON e.seq = x.seq
              WHERE x.unit_id = i.unit_id
                AND e.kind IN ('unit.entered', 'unit.inspected')
                AND e.occurred_at_ms = i.at_ms
                AND COALESCE(e.content ->> '$.unit.id', e.content ->> '$.unitId') = i.unit_id
              LIMIT 1) AS station
      FROM inspections i
      JOIN units u ON u.id = i.unit_id
      WHERE i.id > @afterId
        AND (@step IS NULL OR i.kind = @step)
        AND i.at_ms >= @fromMs AND i.at_ms < @untilMs
        AND (@result IS NULL OR i.result = @result))
    WHERE (@first IS NULL OR first = @first)
      AND (@station IS NULL OR station = @station)
    ORDER BY id
    LIMIT @limit`);
  return {
    inspected: (filter: InspectedFilter, afterId: number, limit: number) =>
      inspected.all({ ...filter, afterId, limit }),
  };
}
