import { describe, expect, it } from 'vitest';
import {
  acceptanceLimits,
  conformanceProbability,
  guardBandFor,
  judgeRun,
  type MeasuredCharacteristic,
  margin,
} from '../../src/testing/rules.js';

const upperOnly = (upper: number, guardBand: number) => ({
  lower: null,
  upper,
  guardBand,
  nominal: 0,
});

describe('JCGM 106:2012, conformance probability', () => {
  it('7.4: 12.5 to 16.3, measured 13.6 with u = 1.8, conforms with probability 0.66', () => {
    // The inputs read in a public article that works this example; 0.66 from memory.
    expect(conformanceProbability(13.6, { lower: 12.5, upper: 16.3 }, 1.8)).toBeCloseTo(0.66, 2);
    // 40-digit arithmetic, ours: 0.66262978649530783...
    expect(conformanceProbability(13.6, { lower: 12.5, upper: 16.3 }, 1.8)).toBeCloseTo(
      0.6626297864953078,
      14,
    );
  });

  it('one upper limit: -5.40 V, measured -5.47 V with u = 0.05 V, conforms with probability 0.92', () => {
    // From memory: a worked example of the guide; Φ(1.40) = 0.9192 is in any table of Φ.
    expect(conformanceProbability(-5.47, { lower: null, upper: -5.4 }, 0.05)).toBeCloseTo(
      0.9192,
      4,
    );
  });

  it('one lower limit is the mirror image', () => {
    expect(conformanceProbability(5.47, { lower: 5.4, upper: null }, 0.05)).toBeCloseTo(0.9192, 4);
  });

  it('is judged against the specification limits, not the narrowed ones', () => {
    const c: MeasuredCharacteristic = {
      kind: 'measured',
      code: 'viscosity',
      name: 'Viscosity',
      required: true,
      unit: '1',
      decimals: 1,
      lower: 12.5,
      upper: 16.3,
      guardBand: 1,
      nominal: null,
      standardUncertainty: 1.8,
    };
    const judged = judgeRun([c], [{ code: 'viscosity', value: 13.6, unit: null }]);
    if (!judged.complete) throw new Error('incomplete');
    expect(judged.run.judgements[0]?.conformanceProbability).toBeCloseTo(0.66, 2);
  });

  it('keeps its digits far outside either limit', () => {
    // Φ(-20) = 2.7536241186062337e-89 (40-digit arithmetic, ours).
    const limits = { lower: 0, upper: 100 };
    expect(conformanceProbability(-20, limits, 1)).toBeCloseTo(0, 15);
    expect((conformanceProbability(-20, limits, 1) ?? 0) / 2.7536241186062337e-89).toBeCloseTo(
      1,
      10,
    );
    expect((conformanceProbability(120, limits, 1) ?? 0) / 2.7536241186062337e-89).toBeCloseTo(
      1,
      10,
    );
  });
});

describe('ILAC-G8:09/2019', () => {
  it('4.1: the guard band is the tolerance limit minus the acceptance limit, w = TL - AL', () => {
    expect(acceptanceLimits(upperOnly(10, 0.5))).toEqual({ lower: null, upper: 9.5 });
    expect(acceptanceLimits({ lower: 2, upper: 10, guardBand: 0.5, nominal: null })).toEqual({
      lower: 2.5,
      upper: 9.5,
    });
  });

  it('4.2.1: with w = 0 acceptance ends at the tolerance limit', () => {
    expect(acceptanceLimits(upperOnly(10, 0)).upper).toBe(10);
  });

  it('a result at the limit is false with 50 % under simple acceptance, with less than 2.5 % under w = U', () => {
    // The two risks as quoted in public statements of these rules; U = 2u.
    const atLimit = conformanceProbability(10, { lower: null, upper: 10 }, 0.5);
    expect(1 - (atLimit ?? 0)).toBe(0.5);
    const guarded = acceptanceLimits(upperOnly(10, 2 * 0.5)).upper ?? 0;
    const risk = 1 - (conformanceProbability(guarded, { lower: null, upper: 10 }, 0.5) ?? 0);
    expect(risk).toBeLessThan(0.025);
    expect(risk).toBeGreaterThan(0.02);
  });

  it('a micrometer with a permissible error of ±3 µm and U = 1 µm is accepted to ±2 µm', () => {
    // Worked example of a public guide to the document, which gives it in mm.
    const limits = { lower: -0.003, upper: 0.003, guardBand: 0.001, nominal: null };
    expect(acceptanceLimits(limits)).toEqual({ lower: -0.002, upper: 0.002 });
    expect(margin(0.0017, limits)).toBeGreaterThan(0);
    expect(margin(0.0025, limits)).toBeLessThan(0);
  });
});

describe('ISO 14253-1:2017', () => {
  it('guards by 1.65 u for 95 %, its default (from memory)', () => {
    // Quoted rounded up, as a guard band is.
    expect(Math.ceil(guardBandFor(1) * 100) / 100).toBe(1.65);
    // The 95 % point of the normal distribution, 40-digit arithmetic, ours.
    expect(guardBandFor(1)).toBeCloseTo(1.644853626951473, 14);
    expect(guardBandFor(0.2)).toBeCloseTo(0.32897072539029454, 14);
  });

  it('leaves 95 % conformance at the acceptance limit, which is what the rule is for', () => {
    const u = 0.8;
    const limits = { lower: null, upper: 60, guardBand: guardBandFor(u), nominal: 50 };
    const acceptance = acceptanceLimits(limits).upper ?? 0;
    expect(conformanceProbability(acceptance, limits, u)).toBeCloseTo(0.95, 12);
  });
});
