import { parse } from 'csv-parse/sync';
import type { z } from 'zod';
import { type Fault, Problem } from '../problems.js';

/** Lines of one import at most, the header not counted. */
export const IMPORT_LINE_LIMIT = 10_000;
/** Characters of one line at most: no cell that is taken comes near. */
const LINE_LENGTH_LIMIT = 64 * 1024;
/** Faults reported of one import at most. */
export const FAULT_LIMIT = 1000;

export interface CsvLine {
  /** Line of the file, the header being 1. */
  line: number;
  cells: Record<string, string>;
}

/**
 * Reads an RFC 4180 file with a header line.
 * @param required columns that must be there
 * @param known further columns that may be; any other is refused
 * @throws Problem import-faulty
 */
export function readCsv(
  text: string,
  required: readonly string[],
  known: readonly string[],
): CsvLine[] {
  assertLinesShort(text);
  const records = parseRecords(text);
  const [header, ...rows] = records;
  if (!header) throw faultyImport([{ line: 1, detail: 'the file is empty' }]);
  const columns = header.record;
  const faults = headerFaults(columns, required, known);
  if (rows.length > IMPORT_LINE_LIMIT) {
    faults.push({ line: 1, detail: `more than ${IMPORT_LINE_LIMIT} lines` });
  }
  for (const { record, line } of rows) {
    if (record.length !== columns.length) {
      faults.push({ line, detail: `has ${record.length} cells, not ${columns.length}` });
    }
  }
  if (rows.length === 0) faults.push({ line: 1, detail: 'no line follows the header' });
  if (faults.length > 0) throw faultyImport(faults);
  return rows.map(({ record, line }) => ({
    line,
    cells: Object.fromEntries(columns.map((column, i) => [column, unguarded(record[i] ?? '')])),
  }));
}

interface ParsedRecord {
  record: string[];
  line: number;
}

/** A line of a million commas would keep everybody waiting. @throws Problem import-faulty */
function assertLinesShort(text: string): void {
  let line = 1;
  for (let start = 0; start < text.length; line += 1) {
    const found = text.indexOf('\n', start);
    const end = found === -1 ? text.length : found;
    if (end - start > LINE_LENGTH_LIMIT) {
      throw faultyImport([{ line, detail: `has more than ${LINE_LENGTH_LIMIT} characters` }]);
    }
    start = end + 1;
  }
}

function parseRecords(text: string): ParsedRecord[] {
  try {
    const parsed = parse(text, {
      bom: true,
      info: true,
      relax_column_count: true,
      skip_empty_lines: true,
      // The header, the lines, and one more to tell that there are too many.
      to: IMPORT_LINE_LIMIT + 2,
    }) as unknown as { record: string[]; info: { lines: number } }[];
    return parsed.map(({ record, info }) => ({ record, line: info.lines }));
  } catch (error) {
    const line = (error as { lines?: number }).lines ?? 1;
    throw faultyImport([{ line, detail: 'is not CSV: check the quotation marks' }]);
  }
}

function headerFaults(
  columns: string[],
  required: readonly string[],
  known: readonly string[],
): Fault[] {
  const seen = new Set<string>();
  const isSeen = (column: string) => seen.has(column) || !seen.add(column);
  const missing = required
    .filter((column) => !columns.includes(column))
    .map((column) => ({ line: 1, column, detail: 'this column is missing' }));
  const unknown = columns
    .filter((column) => !required.includes(column) && !known.includes(column))
    .map((column) => ({ line: 1, column, detail: 'this column is not known' }));
  const twice = columns
    .filter(isSeen)
    .map((column) => ({ line: 1, column, detail: 'this column stands twice' }));
  return [...missing, ...unknown, ...twice];
}

/** Takes back the mark that keeps a spreadsheet from running a cell (see csvCell). */
function unguarded(cell: string): string {
  return /^'+[=+\-@\t\r\0]/.test(cell) ? cell.slice(1) : cell;
}

/** A cell as a number where it is one, as undefined where it is empty; else the text, to be refused. */
export function numberCell(cell: string | undefined): number | string | undefined {
  if (cell === undefined || cell === '') return undefined;
  return /^-?\d+(\.\d+)?([eE][+-]?\d+)?$/.test(cell) ? Number(cell) : cell;
}

/** A cell as true or false; else the text, to be refused. */
export function booleanCell(cell: string | undefined): boolean | string | undefined {
  if (cell === undefined || cell === '') return undefined;
  if (cell === 'true') return true;
  return cell === 'false' ? false : cell;
}

/** A cell as text, undefined where it is empty. */
export function textCell(cell: string | undefined): string | undefined {
  return cell === '' ? undefined : cell;
}

/** A zod fault as a fault of a line; the member's name is the column's. */
export function lineFaults(line: number, error: z.ZodError): Fault[] {
  return error.issues.map((issue) => {
    const column = issue.path.map(String).join('.');
    return { line, ...(column ? { column } : {}), detail: issue.message };
  });
}

export function faultyImport(faults: Fault[]): Problem {
  const errors = faults.slice(0, FAULT_LIMIT);
  return new Problem(
    'import-faulty',
    `${faults.length} faults were found; nothing of the file was taken.`,
    { errors },
  );
}
