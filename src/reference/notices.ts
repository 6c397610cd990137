import type { Plant } from '../plant.js';
import type { NoticeRow } from './records.js';
import type { Shift } from './rules.js';

/** What a cell is told with every run that it posts. */
export interface CellNotice {
  kind: 'reference-overdue' | 'reference-shifted';
  /** In words. */
  detail: string;
  /** Serial of the reference motor. */
  referenceMotor: string;
  /** When the cell had to run it at the latest. */
  dueAtMs: number;
  /** The cell's latest reference run with it; null where there was none. */
  referenceRun: number | null;
  /** Characteristics that were off the motor's accepted history; none where it is overdue. */
  characteristics: string[];
}

const HOUR_MS = 60 * 60 * 1000;
/** Characteristics that the words name, at most. */
const NAMED_LIMIT = 3;

/**
 * What to tell a cell about its reference motors at an instant; empty where all is well.
 * Costs one look into an index then, as it is asked with every run.
 */
export function cellNotices(plant: Plant, cell: string, now: number): CellNotice[] {
  return plant.reference.amissIn(cell, now).flatMap((row) => {
    const shifts = row.shifted === 1 ? (JSON.parse(row.shifts ?? '[]') as Shift[]) : [];
    const about = { referenceMotor: row.motor, dueAtMs: row.dueAtMs, referenceRun: row.lastRunId };
    const notices: CellNotice[] = [];
    if (row.dueAtMs < now) {
      const detail = overdueInWords(row, cell, now);
      notices.push({ kind: 'reference-overdue', detail, ...about, characteristics: [] });
    }
    if (shifts.length > 0) {
      const detail = shiftedInWords(row, cell, shifts);
      const characteristics = shifts.map((one) => one.code);
      notices.push({ kind: 'reference-shifted', detail, ...about, characteristics });
    }
    return notices;
  });
}

function overdueInWords(row: NoticeRow, cell: string, now: number): string {
  const { motor, intervalHours, dueAtMs, lastRunId, lastRunAtMs } = row;
  const last =
    lastRunAtMs === null
      ? 'it has not run here yet'
      : `its last run here, ${lastRunId}, was ${ago(now - lastRunAtMs)}`;
  return `Cell ${cell} has to run reference motor ${motor} every ${hours(intervalHours)}; it was due ${ago(now - dueAtMs)}, and ${last}. Run it before the next motor.`;
}

function shiftedInWords({ motor, lastRunId }: NoticeRow, cell: string, shifts: Shift[]): string {
  const named = shifts
    .slice(0, NAMED_LIMIT)
    .map(
      ({ code, unit, value, limits }) =>
        `${code} ${figure(value)} ${unit} (accepted ${figure(limits.lower)} to ${figure(limits.upper)})`,
    );
  const more = shifts.length > NAMED_LIMIT ? ` and ${shifts.length - NAMED_LIMIT} more` : '';
  return `Cell ${cell} reads reference motor ${motor} off its accepted history in reference run ${lastRunId}: ${named.join(', ')}${more}. Call quality, and run it again once the cell is set right.`;
}

function ago(ms: number): string {
  const whole = Math.floor(ms / HOUR_MS);
  return whole === 0 ? 'less than an hour ago' : `${hours(whole)} ago`;
}

function hours(count: number): string {
  return count === 1 ? '1 hour' : `${count} hours`;
}

/** Six digits: enough to see by, and no tail of the arithmetic. */
function figure(value: number): string {
  return String(Number(value.toPrecision(6)));
}
