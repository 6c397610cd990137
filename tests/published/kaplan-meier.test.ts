import { describe, expect, it } from 'vitest';
import { kaplanMeier, medianSurvival } from '../../src/statistics/kaplan-meier.js';

// Freireich et al., Blood 21 (1963) 699: weeks of remission of 21 pairs of leukemia patients,
// as listed in textbooks and course notes (Cox and Oakes, table 1.1). Relapse is the event.
const relapsed = (time: number) => ({ time, event: true });
const suspended = (time: number) => ({ time, event: false });
const treated = [
  ...[6, 6, 6, 7, 10, 13, 16, 22, 23].map(relapsed),
  ...[6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35].map(suspended),
];
const untreated = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23].map(
  relapsed,
);
const round = (x: number | null, places: number) => x && Number(x.toFixed(places));

describe('the 6-MP group of Freireich 1963', () => {
  // Survival and standard error as printed in the results of the NAG Library's example
  // program for g12aa; at risk as in the textbooks (from memory).
  it.each([
    [6, 21, 3, 0.857, 0.076],
    [7, 17, 1, 0.807, 0.087],
    [10, 15, 1, 0.753, 0.096],
    [13, 12, 1, 0.69, 0.107],
    [16, 11, 1, 0.627, 0.114],
    [22, 7, 1, 0.538, 0.128],
    [23, 6, 1, 0.448, 0.135],
  ])(
    'at week %d has %d at risk and %d relapsed: survival %d, standard error %d',
    (time, atRisk, events, survival, standardError) => {
      const step = kaplanMeier(treated).find((candidate) => candidate.time === time);
      expect(step).toMatchObject({ atRisk, events });
      expect(round(step?.survival ?? null, 3)).toBe(survival);
      expect(round(step?.standardError ?? null, 3)).toBe(standardError);
    },
  );

  // SciPy 1.17.1, ecdf of the same data, confidence_interval(0.95, method="log-log").
  it.each([
    [6, 0.61971796, 0.95155175],
    [7, 0.56314656, 0.92280902],
    [10, 0.50319951, 0.88936184],
    [13, 0.43161022, 0.84906596],
    [16, 0.36751086, 0.80491219],
    [22, 0.26777894, 0.74679072],
    [23, 0.18805201, 0.68014263],
    [35, 0.18805201, 0.68014263],
  ])('at week %d lies within %d and %d', (time, lower, upper) => {
    const step = kaplanMeier(treated).find((candidate) => candidate.time === time);
    expect(round(step?.lower ?? null, 8)).toBe(lower);
    expect(round(step?.upper ?? null, 8)).toBe(upper);
  });

  it('has its median at week 23 (textbooks, from memory)', () => {
    expect(medianSurvival(kaplanMeier(treated))).toBe(23);
  });
});

describe('the untreated group of Freireich 1963', () => {
  // Princeton course notes on demographic methods, "Kaplan-Meier Survival", output of sts list.
  it.each([
    [1, 21, 2, 0.9048, 0.0641, 0.67, 0.9753],
    [2, 19, 2, 0.8095, 0.0857, 0.5689, 0.9239],
  ])(
    'at week %d has %d at risk, %d relapsed: %d (%d), %d to %d',
    (time, atRisk, events, survival, standardError, lower, upper) => {
      const step = kaplanMeier(untreated).find((candidate) => candidate.time === time);
      expect(step).toMatchObject({ atRisk, events });
      const figures = [step?.survival, step?.standardError, step?.lower, step?.upper];
      expect(figures.map((x) => round(x ?? null, 4))).toEqual([
        survival,
        standardError,
        lower,
        upper,
      ]);
    },
  );

  it('has its median at week 8 (textbooks, from memory)', () => {
    expect(medianSurvival(kaplanMeier(untreated))).toBe(8);
  });
});

describe('Bewick, Cheek and Ball, Critical Care 8 (2004) 389, table 2', () => {
  // Treatment 2: patients 2 to 11; patient 1 lists no survival of its own.
  it('has survival 0.75, 0.625, 0.5, 0.333 and 0', () => {
    const steps = kaplanMeier([...[1, 1, 4, 5, 9, 22].map(relapsed), ...[6, 9].map(suspended)]);
    const withEvents = steps.filter((step) => step.events > 0);
    expect(withEvents.map((step) => [step.time, step.atRisk])).toEqual([
      [1, 8],
      [4, 6],
      [5, 5],
      [9, 3],
      [22, 1],
    ]);
    expect(withEvents.map((step) => round(step.survival, 3))).toEqual([0.75, 0.625, 0.5, 0.333, 0]);
    expect(medianSurvival(steps)).toBe(5);
  });
});
