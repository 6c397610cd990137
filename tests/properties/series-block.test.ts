import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  Outcome,
  packColumn,
  packRuns,
  type SeriesRun,
  unpackColumn,
  unpackRuns,
} from '../../src/series/block.js';

const gauge = fc
  .tuple(fc.integer({ min: -2_000_000_000, max: 2_000_000_000 }), fc.integer({ min: 0, max: 6 }))
  .map(([whole, decimals]) => whole / 10 ** decimals);
const anyValue = fc.oneof(gauge, fc.double({ noNaN: true }), fc.constant(Number.NaN));

const run: fc.Arbitrary<SeriesRun> = fc.record({
  runId: fc.integer({ min: 1, max: 2 ** 50 }),
  endedAtMs: fc.integer({ min: 1, max: 2 ** 45 }),
  cell: fc.constantFrom('CELL-1', 'CELL-2', 'Prüfstand 3'),
  attempt: fc.integer({ min: 1, max: 5 }),
  passed: fc.boolean(),
  firstPass: fc.boolean(),
});

describe('a block of a series', () => {
  it('gives every value of a column back as it was', () => {
    fc.assert(
      fc.property(fc.array(anyValue, { maxLength: 40 }), (values) => {
        const column = unpackColumn(packColumn(Float64Array.from(values)));
        expect(column.length).toBe(values.length);
        for (const [i, value] of values.entries()) {
          // Minus zero is zero to every question: adding 0 makes it so.
          expect((column[i] ?? 0) + 0).toBe(value + 0);
        }
      }),
      { numRuns: 500 },
    );
  });

  it('takes four bytes for what a gauge shows, and eight for any other double', () => {
    const column = (values: number[]) => packColumn(Float64Array.from(values)).length;
    expect(column([800.25, 799, -0.5, Number.NaN])).toBe(4 * 4 + 1);
    expect(column([800.25, Math.PI])).toBe(2 * 8 + 1);
    expect(column([3e9])).toBe(8 + 1);
  });

  it('gives every run back with its cell and what became of it', () => {
    fc.assert(
      fc.property(fc.array(run, { maxLength: 40 }), (runs) => {
        const { cells, packed } = packRuns(runs);
        const block = unpackRuns(packed);
        const again = runs.map((_, i) => ({
          runId: block.runIds[i],
          endedAtMs: block.endedAtMs[i],
          cell: cells[block.cellOf[i] ?? -1],
          passed: ((block.outcomes[i] ?? 0) & Outcome.passed) !== 0,
          firstRun: ((block.outcomes[i] ?? 0) & Outcome.firstRun) !== 0,
          firstPass: ((block.outcomes[i] ?? 0) & Outcome.firstPass) !== 0,
        }));
        expect(again).toEqual(
          runs.map(({ attempt, ...one }) => ({ ...one, firstRun: attempt === 1 })),
        );
      }),
    );
  });
});
