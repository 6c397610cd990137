import { describe, expect, it } from 'vitest';
import {
  acceptedRange,
  balance,
  cellStudy,
  compareWithHistory,
  crossedStudy,
  crossedStudyByRange,
  isAtRest,
  SHIFT_SIGNIFICANCE,
  studyFault,
} from '../../src/reference/rules.js';
import { moments } from '../../src/statistics/moments.js';

/** Numbers between 0 and 1 that are the same in every run (mulberry32, public domain). */
function uniform(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Standard normal numbers, by Box and Muller. */
function normal(random: () => number): () => number {
  return () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

describe('the accepted range', () => {
  it('is mean ± t s √(1 + 1/n), with t as printed tables have it', () => {
    // Ten values with mean 0 and s 1: t(0.975, 9) = 2.262, so ± 2.262 √1.1 = 2.3726.
    const history = { count: 10, mean: 0, standardDeviation: 1 };
    expect(acceptedRange(history, 0.05).limits.upper).toBeCloseTo(2.3724, 3);
    // t(0.995, 9) = 3.250.
    expect(acceptedRange(history, 0.01).limits.lower).toBeCloseTo(-3.4086, 3);
    // Two values: t(0.975, 1) = 12.706.
    const two = acceptedRange(moments([4, 6]), 0.05);
    expect(two).toMatchObject({ centre: 5, sigma: Math.SQRT2 });
    expect(two.limits.upper).toBeCloseTo(5 + 12.706 * Math.SQRT2 * Math.sqrt(1.5), 2);
  });

  it('is none of a history without variation', () => {
    expect(() => acceptedRange(moments([7, 7, 7]), 0.05)).toThrow(RangeError);
  });
});

describe('comparing a reference run with its motor’s history', () => {
  const history = [98, 99, 100, 101, 102];
  const pressure = { code: 'pressure', unit: 'kPa', history };

  it('waits for the whole history, and for one with variation', () => {
    const observed = [{ ...pressure, value: 500 }];
    expect(compareWithHistory(observed, 6)).toEqual({ compared: 0, shifts: [] });
    expect(compareWithHistory(observed, 5)).toMatchObject({
      compared: 1,
      shifts: [{ value: 500 }],
    });
    const still = [{ ...pressure, history: [7, 7, 7, 7, 7], value: 8 }];
    expect(compareWithHistory(still, 5)).toEqual({ compared: 0, shifts: [] });
    expect(compareWithHistory([], 5)).toEqual({ compared: 0, shifts: [] });
  });

  it('takes a value on a limit as within, one beyond as off', () => {
    const { limits } = acceptedRange(moments(history), SHIFT_SIGNIFICANCE);
    const shiftsAt = (value: number) => compareWithHistory([{ ...pressure, value }], 5).shifts;
    expect(shiftsAt(limits.upper)).toEqual([]);
    expect(shiftsAt(limits.lower)).toEqual([]);
    expect(shiftsAt(limits.upper * (1 + 1e-12))).toHaveLength(1);
    expect(shiftsAt(limits.lower * (1 - 1e-12))).toHaveLength(1);
  });

  it('asks for more the more characteristics are compared', () => {
    const { limits } = acceptedRange(moments(history), SHIFT_SIGNIFICANCE);
    const value = limits.upper + 0.1;
    const others = Array.from({ length: 9 }, (_, i) => ({
      ...pressure,
      code: `other-${i}`,
      value: 100,
    }));
    expect(compareWithHistory([{ ...pressure, value }], 5).shifts).toHaveLength(1);
    expect(compareWithHistory([{ ...pressure, value }, ...others], 5)).toEqual({
      compared: 10,
      shifts: [],
    });
  });

  it.each([
    [1, 10],
    [10, 10],
    [40, 10],
  ])(
    'calls one unshifted run in a hundred shifted, with %i characteristics and a history of %i',
    (characteristics, runs) => {
      const draw = normal(uniform(1000 * characteristics + runs));
      const trials = 2000;
      let shifted = 0;
      for (let i = 0; i < trials; i += 1) {
        const observed = Array.from({ length: characteristics }, (_, c) => ({
          code: `c${c}`,
          unit: '1',
          value: draw(),
          history: Array.from({ length: runs }, draw),
        }));
        if (compareWithHistory(observed, runs).shifts.length > 0) shifted += 1;
      }
      // Of a share of 0.01 in 4000: four standard deviations are 0.0063.
      expect(Math.abs(shifted / trials - SHIFT_SIGNIFICANCE)).toBeLessThan(0.0063);
    },
  );
});

describe('the balanced part of reference runs', () => {
  const run = (id: number, referenceMotorId: number, cell: string) => ({
    id,
    referenceMotorId,
    cell,
    value: id,
  });
  const idsOf = (runs: { id: number }[][][]) =>
    runs.map((motor) => motor.map((cell) => cell.map((one) => one.id)));

  it('is the latest of each pair, as many as the pair with the fewest has', () => {
    const runs = [
      run(1, 2, 'B'),
      run(2, 1, 'A'),
      run(3, 1, 'A'),
      run(4, 1, 'B'),
      run(5, 2, 'A'),
      run(6, 1, 'A'),
      run(7, 2, 'A'),
      run(8, 1, 'B'),
      run(9, 2, 'B'),
    ];
    const balanced = balance(runs, 100);
    expect(balanced).toMatchObject({ motors: [1, 2], cells: ['A', 'B'], trials: 2, leftOut: 1 });
    expect(idsOf(balanced.runs)).toEqual([
      [
        [3, 6],
        [4, 8],
      ],
      [
        [5, 7],
        [1, 9],
      ],
    ]);
    expect(studyFault(balanced)).toBeNull();
    expect(balance(runs, 1)).toMatchObject({ trials: 1, leftOut: 5 });
  });

  it('is nothing where a pair has none, and says which', () => {
    const balanced = balance([run(1, 1, 'A'), run(2, 1, 'B'), run(3, 2, 'A')], 100);
    expect(balanced).toMatchObject({ trials: 0, leftOut: 3 });
    expect(idsOf(balanced.runs)).toEqual([
      [[], []],
      [[], []],
    ]);
    expect(studyFault(balanced)).toMatch(/^Reference motor 2 has 0 of its runs in cell B/);
    expect(balance([], 100)).toMatchObject({ motors: [], cells: [], trials: 0, fewest: null });
    expect(studyFault(balance([], 100))).toBe('No reference run has a value of it.');
    expect(studyFault(balance([run(1, 1, 'A'), run(2, 1, 'A')], 100))).toContain('needs two cells');
  });
});

describe('gauge studies of reference runs', () => {
  // Parts ten apart, appraisers alike, with a spread of trials of one.
  const readings = [
    [
      [0, 1],
      [0, 1],
    ],
    [
      [10, 11],
      [10, 11],
    ],
  ];

  it('pool an interaction that is not significant, and no other', () => {
    expect(crossedStudy(readings, null)).toMatchObject({
      interactionPooled: true,
      interaction: null,
    });
    const crossing = [
      [
        [0, 1],
        [10, 11],
      ],
      [
        [10, 11],
        [0, 1],
      ],
    ];
    const study = crossedStudy(crossing, null);
    expect(study.interactionPooled).toBe(false);
    // MS of the interaction is 2 (4 · 5²) = 200, within 0.5: (200 - 0.5)/2.
    expect(study.interaction?.standardDeviation).toBeCloseTo(Math.sqrt(99.75), 12);
    // Negative variances of cells and motors are taken as 0.
    expect(study.reproducibility.standardDeviation).toBe(0);
    expect(study.part.standardDeviation).toBe(0);
  });

  it('are by averages and ranges too, as far as the tables go', () => {
    expect(crossedStudyByRange(readings, 20)?.partRange).toBe(10);
    const many = readings.map((part) => part.map(() => Array.from({ length: 26 }, (_, i) => i)));
    expect(crossedStudyByRange(many, 20)).toBeNull();
  });

  it('of one motor are between its cells', () => {
    // Means 1 and 3, trials one apart: MS within 0.5, between 4: EV² = 0.5, AV² = 1.75.
    const study = cellStudy(
      [
        [0.5, 1.5],
        [2.5, 3.5],
      ],
      9,
    );
    expect(study.repeatability.standardDeviation).toBeCloseTo(Math.SQRT1_2, 14);
    expect(study.reproducibility.standardDeviation).toBeCloseTo(Math.sqrt(1.75), 14);
    expect(study.gauge).toEqual({ standardDeviation: 1.5, percentOfTolerance: 100 });
    // Cells closer than their own spread would have them: a negative variance is 0.
    const alike = cellStudy(
      [
        [0, 2],
        [0, 2],
      ],
      null,
    );
    expect(alike.reproducibility).toEqual({ standardDeviation: 0, percentOfTolerance: null });
    expect(alike.gauge.standardDeviation).toBeCloseTo(Math.SQRT2, 14);
  });
});

describe('what may be a reference', () => {
  it('is a motor that nothing is being done to', () => {
    const states = ['awaiting-test', 'in-test', 'in-repair', 'passed', 'released', 'scrapped'];
    expect(states.filter(isAtRest)).toEqual(['awaiting-test', 'passed']);
  });
});
