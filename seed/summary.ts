import { countBy, type Figures } from './figures.js';
import { clockTime, heading, percent, table, wrapped } from './layout.js';

const right = 'right' as const;

/** The shift in figures, as text. */
export function summaryOf(figures: Figures, startMs: number, endMs: number): string {
  const day = new Date(startMs).toISOString().slice(0, 10);
  return [
    heading(
      `One shift at Tern Bay Marine Power, ${day}, ${clockTime(startMs)} to ${clockTime(endMs)} UTC`,
    ),
    setting(figures),
    testing(figures),
    rework(figures),
    standing(figures),
  ].join('\n');
}

function setting({ attempts }: Figures): string {
  const refused = attempts.filter((one) => one.outcome !== 'set');
  const reasons = countBy(refused, (one) => one.outcome);
  const rows = [...reasons].map(([slug, count]) => {
    const example = refused.find((one) => one.outcome === slug)?.detail ?? '';
    return [slug, String(count), example];
  });
  const share = percent(refused.length / attempts.length);
  return [
    heading('Setting powerheads on lower units'),
    `  set ${attempts.length - refused.length}, refused ${refused.length} (${share} of ${attempts.length} attempts)\n`,
    table(
      [{ title: 'refused because' }, { title: 'times', align: right }, { title: 'for example' }],
      rows,
    ),
  ].join('\n');
}

function testing({ yieldByModel, runs, takenOver }: Figures): string {
  const completed = runs.filter((run) => run.state === 'completed');
  const failed = completed.filter((run) => run.verdict === 'fail').length;
  const disagreements = completed.filter((run) => run.disagreement).length;
  const aborted = runs.filter((run) => run.state === 'aborted').length;
  const open = runs.filter((run) => run.state === 'open').length;
  const rows = yieldByModel.map((line) => [
    line.slice,
    String(line.firstRuns),
    String(line.firstPasses),
    percent(line.firstPassYield),
    `${percent(line.lower)} to ${percent(line.upper)}`,
  ]);
  return [
    heading('Hot tests'),
    `  runs ${runs.length}: completed ${completed.length}, aborted ${aborted}, still open ${open}`,
    `  failed ${failed} (${percent(failed / completed.length)} of completed), ` +
      `cell thought otherwise ${disagreements}, taken over from a dead cell ${takenOver}\n`,
    table(
      [
        { title: 'model' },
        { title: 'first runs', align: right },
        { title: 'passed', align: right },
        { title: 'first-pass yield', align: right },
        { title: '95 % Wilson interval', align: right },
      ],
      rows,
    ),
  ].join('\n');
}

function rework({ loops, repairs, teardowns }: Figures): string {
  const outcomes = countBy(repairs, (repair) => repair.outcome ?? 'still open');
  const list = [...outcomes].map(([outcome, count]) => `${outcome} ${count}`).join(', ');
  return [
    heading('Repair'),
    `  repairs ${repairs.length}: ${list}`,
    ...teardowns.map(
      (one) => `  motor ${one.motor} torn down; its halves were set again as ${one.setAgainAs}`,
    ),
    '',
    table(
      [
        { title: 'rework loops', align: right },
        { title: 'motors', align: right },
        { title: 'of them passed in the last run', align: right },
      ],
      loops.map((line) => [String(line.loops), String(line.motors), String(line.passed)]),
    ),
  ].join('\n');
}

function standing({ motorsByState, releasedMotors, holds }: Figures): string {
  const open = holds.filter((hold) => hold.liftedAt === null);
  const states = [...motorsByState].map(([state, count]) => `${state} ${count}`).join(', ');
  return [
    heading('At the end of the shift'),
    wrapped(`  released ${releasedMotors.length}; motors by state: ${states}`, 2),
    `  held ${open.length}, holds lifted ${holds.length - open.length}`,
    table(
      [{ title: 'held' }, { title: 'serial' }, { title: 'cause' }, { title: 'reason' }],
      open.map((hold) => [hold.class, hold.serial, hold.cause, hold.reason]),
    ),
  ].join('\n');
}
