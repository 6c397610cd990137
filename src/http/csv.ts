import { stringify } from 'csv-stringify/sync';

/** A spreadsheet would run a cell that begins so; with marks before it, a reader would take one off. */
const formulaStart = /^'*[=+\-@\t\r\0]/;

/** A value as a CSV cell: nested values as JSON, text that could run as a formula defused. */
export function csvCell(value: unknown): string {
  if (value === null || value === undefined) return '';
  if (typeof value === 'string') return formulaStart.test(value) ? `'${value}` : value;
  if (typeof value === 'object') return JSON.stringify(value);
  return String(value);
}

/** A table as RFC 4180 text with a header line. */
export function csvTable(
  columns: readonly string[],
  rows: readonly Record<string, unknown>[],
): string {
  return stringify(
    rows.map((row) => columns.map((column) => csvCell(row[column]))),
    { header: true, columns: [...columns], record_delimiter: '\r\n' },
  );
}
