import type { Database } from 'better-sqlite3';
import { keyIn } from '../yield/records.js';
import { FULL_CUBE, GRAIN, GROUPINGS } from '../yield/rules.js';
import type { Finding } from './verify.js';

/** Differing rows told of each comparison. */
const ROWS_TOLD = 20;

/** What tells runs apart beside day and shift, which stand in the run's event alone. */
const place = 'model_id, configuration_id, cell, station';
const dimensions = {
  model: 'model_id',
  configuration: 'configuration_id',
  cell: 'cell',
  station: 'station',
  shift: 'shift',
};
const counts = [
  'first_runs',
  'first_passes',
  'finally_passed',
  'reworked',
  'completed_runs',
  'passed_runs',
  'first_defects',
  'defects',
  'aborted_runs',
];
const added = counts.map((column) => `SUM(${column})`).join(', ');
const fullCube = `FROM yield_counts WHERE grain = ${GRAIN.day} AND grouping = ${FULL_CUBE}`;

/** Every ended run, with what its motor's latest completed run came to. */
const endedRuns = `
  SELECT r.*, u.model_id, s.configuration_id, s.station,
         r.attempt IS 1 AS first,
         (SELECT COUNT(*) FROM run_failures f WHERE f.run_id = r.id) AS defects,
         (SELECT l.verdict = 'pass' FROM runs l
          WHERE l.motor_id = r.motor_id AND l.attempt IS NOT NULL
          ORDER BY l.attempt DESC LIMIT 1) AS finally_passed
  FROM runs r
  JOIN sets s ON s.motor_id = r.motor_id
  JOIN units u ON u.id = r.motor_id
  WHERE r.state <> 'open'`;

/** The full cube over all days; an outcome counts where the first run did. */
const cubeFromRuns = `
  SELECT ${place},
         SUM(first), SUM(first_pass IS 1), SUM(first AND finally_passed),
         SUM(first_pass IS 0 AND finally_passed), SUM(state = 'completed'),
         SUM(verdict IS 'pass'), SUM(IIF(first, defects, 0)), SUM(defects),
         SUM(state = 'aborted')
  FROM (${endedRuns})
  GROUP BY ${place}`;

/**
 * The yield against itself and against the runs: every grouping against the full cube by
 * day; that cube over all days, and every motor, against the runs; and the days and shifts of
 * motors and runs against the cube's.
 */
export function yieldFindings(source: Database): Finding[] {
  const groupings = Object.values(GRAIN).flatMap((grain) =>
    GROUPINGS.flatMap((grouping) =>
      differing(source, 'yield_counts', {
        what: `grouping ${grouping} of the roll-up differs from the full cube`,
        kept: `
          SELECT period, ${place}, shift, ${counts.join(', ')}
          FROM yield_counts WHERE grain = ${grain} AND grouping = ${grouping}`,
        computed: `
          SELECT ${grain === GRAIN.day ? 'period' : 'substr(period, 1, 7)'},
                 ${keyIn(grouping, dimensions)}, ${added}
          ${fullCube}
          GROUP BY 1, 2, 3, 4, 5, 6`,
      }),
    ),
  );
  const cube = differing(source, 'yield_counts', {
    what: 'the roll-up differs from a count over the runs',
    kept: `SELECT ${place}, ${added} ${fullCube} GROUP BY ${place}`,
    computed: cubeFromRuns,
  });
  const motors = differing(source, 'yield_motors', {
    what: 'a counted motor differs from its runs',
    kept: `SELECT motor_id, run_id, ${place}, first_pass, finally_passed FROM yield_motors`,
    computed: `SELECT motor_id, id, ${place}, first_pass, finally_passed FROM (${endedRuns}) WHERE first`,
  });
  const days = differing(source, 'yield_motors', {
    what: 'the motors of a day differ from the roll-up',
    kept: `
      SELECT day, ${place}, shift, COUNT(*), SUM(first_pass), SUM(finally_passed),
             SUM(finally_passed AND NOT first_pass)
      FROM yield_motors GROUP BY day, ${place}, shift`,
    computed: `
      SELECT period, ${place}, shift, first_runs, first_passes, finally_passed, reworked
      ${fullCube} AND first_runs > 0`,
  });
  const runs = differing(source, 'runs', {
    what: 'the runs of a day differ from the roll-up',
    kept: `
      SELECT counted_day, ${place}, counted_shift, SUM(state = 'completed'),
             SUM(verdict IS 'pass'), SUM(defects), SUM(state = 'aborted')
      FROM (${endedRuns}) GROUP BY counted_day, ${place}, counted_shift`,
    computed: `
      SELECT period, ${place}, shift, completed_runs, passed_runs, defects, aborted_runs
      ${fullCube}`,
  });
  return [...groupings, ...cube, ...motors, ...days, ...runs];
}

function differing(
  source: Database,
  table: string,
  { what, kept, computed }: { what: string; kept: string; computed: string },
): Finding[] {
  const rows = source
    .prepare(
      `SELECT * FROM (${kept} EXCEPT ${computed})
       UNION ALL SELECT * FROM (${computed} EXCEPT ${kept})
       LIMIT ${ROWS_TOLD}`,
    )
    .raw()
    .all();
  return rows.map((row) => ({ table, detail: `${what}: ${JSON.stringify(row)}` }));
}
