/** The one-tail 95 % confidence coefficient for so many tests. */
export interface T95Row {
  /** The number of tests n; the last row serves this number and all above. */
  tests: number;
  t95: number;
}

/** A printed table of the coefficient with its source. */
export interface T95Table {
  source: string;
  /** Ascending, without a gap. */
  rows: readonly Readonly<T95Row>[];
}

const printedFromTwoTests = [
  6.31, 2.92, 2.35, 2.13, 2.02, 1.94, 1.9, 1.86, 1.83, 1.81, 1.8, 1.78, 1.77, 1.76, 1.75, 1.75,
  1.74, 1.73, 1.73, 1.72, 1.72, 1.72, 1.71, 1.71, 1.71, 1.71, 1.7, 1.7, 1.7,
] as const;

/**
 * The table as 40 CFR 1048.310(c)(1) prints it (editions of July 2007 and current on a public
 * mirror): the sister part of 1045 with the same production-line scheme. The table of
 * part 1045 itself was not seen; its last row may differ (1.65 from 31 tests on, from memory).
 * Check it against the regulation before use, and pass another table where it differs.
 *
 * The values are Student's t(0.95, n - 1) to two decimals, but for n = 8, where 1.8946 is
 * printed as 1.90.
 */
export const t95Of1048: Readonly<T95Table> = Object.freeze({
  source: '40 CFR 1048.310(c)(1)',
  rows: Object.freeze(
    printedFromTwoTests.map((t95, before) => Object.freeze({ tests: before + 2, t95 })),
  ),
});

/**
 * The coefficient for a number of tests, read from a printed table.
 *
 * Domain: whole tests from the table's first row on, above its last row that one's value.
 * Accuracy: as printed, two decimals.
 *
 * @example
 * t95For(5); // 2.13
 * t95For(99); // 1.7
 *
 * @throws RangeError outside the domain.
 */
export function t95For(tests: number, table: Readonly<T95Table> = t95Of1048): number {
  const last = table.rows.at(-1);
  const row = table.rows.find((candidate) => candidate.tests === tests);
  if (row) return row.t95;
  if (last && Number.isSafeInteger(tests) && tests > last.tests) return last.t95;
  throw new RangeError(`the table of ${table.source} has no row for ${tests} tests`);
}
