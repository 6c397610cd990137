import { BaseSequencer, type TestSpecification } from 'vitest/node';

/** What takes longest, the longest first: begun last, it would leave one of two cores idle for minutes. */
const slow = [
  'tests/faults/crash/',
  'tests/fuzz/requests',
  'tests/browser/set-station',
  'tests/browser/test-cell',
  'tests/browser/history',
  'tests/browser/repair-bench',
  'tests/browser/catalogue',
  'tests/browser/quality',
  'tests/demo/demo',
  'tests/properties/plant-life',
];

/** Where a test file stands among the slow ones; behind them where it is not. */
function rankOf({ moduleId }: TestSpecification): number {
  const rank = slow.findIndex((one) => moduleId.includes(one));
  return rank < 0 ? slow.length : rank;
}

/** The slow test files in their order, then the others as they would have come. */
export class SlowestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const usual = await super.sort(files);
    return usual.toSorted((a, b) => rankOf(a) - rankOf(b));
  }
}
