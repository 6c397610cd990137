import { describe, expect, it } from 'vitest';
import {
  type AttributeCharacteristic,
  acceptanceLimits,
  type Characteristic,
  characteristicFaults,
  conformanceProbability,
  type DerivedCharacteristic,
  guardBandFor,
  judgedValue,
  judgeRun,
  type Limits,
  type MeasuredCharacteristic,
  margin,
  type Reading,
  readingFault,
} from '../../src/testing/rules.js';

const oilPressure: MeasuredCharacteristic = {
  kind: 'measured',
  code: 'oil-pressure',
  name: 'Oil pressure at idle',
  required: true,
  unit: 'kPa',
  decimals: 0,
  lower: 200,
  upper: 400,
  guardBand: 0,
  nominal: null,
  standardUncertainty: null,
};
const coolantTemperature: MeasuredCharacteristic = {
  ...oilPressure,
  code: 'coolant-temperature',
  name: 'Coolant temperature',
  unit: 'Cel',
  lower: null,
  upper: 80,
  nominal: 60,
};
const telltale: AttributeCharacteristic = {
  kind: 'attribute',
  code: 'telltale',
  name: 'Telltale stream visible',
  required: true,
  expected: true,
};
const pressureSpread: DerivedCharacteristic = {
  ...oilPressure,
  kind: 'derived',
  code: 'pressure-spread',
  name: 'Oil pressure, warm against cold',
  lower: null,
  upper: 50,
  nominal: 0,
  derivation: { function: 'spread', inputs: ['oil-pressure', 'oil-pressure-cold'] },
};
const coldPressure: MeasuredCharacteristic = {
  ...oilPressure,
  code: 'oil-pressure-cold',
  lower: null,
  upper: null,
};

const limits = (values: Partial<Limits>): Limits => ({
  lower: null,
  upper: null,
  guardBand: 0,
  nominal: null,
  ...values,
});

const read = (code: string, value: number | boolean, unit: string | null = null): Reading => ({
  code,
  value,
  unit,
});

function judged(characteristics: Characteristic[], readings: Reading[]) {
  const result = judgeRun(characteristics, readings);
  if (!result.complete) throw new Error(JSON.stringify(result.missing));
  return result.run;
}

function missing(characteristics: Characteristic[], readings: Reading[]) {
  const result = judgeRun(characteristics, readings);
  if (result.complete) throw new Error(`complete: ${result.run.verdict}`);
  return result.missing;
}

describe('acceptance limits', () => {
  it('narrow in decimals, as on paper', () => {
    expect(acceptanceLimits(limits({ lower: 0.1, upper: 0.8, guardBand: 0.2 }))).toEqual({
      lower: 0.3,
      upper: 0.6,
    });
    expect(acceptanceLimits(limits({ upper: 1, guardBand: 0.9 }))).toEqual({
      lower: null,
      upper: 0.1,
    });
    expect(acceptanceLimits(limits({}))).toEqual({ lower: null, upper: null });
  });
});

describe('the margin', () => {
  it('is 1 at the middle, 0 on a limit and negative outside', () => {
    const l = limits({ lower: 200, upper: 400 });
    expect([300, 250, 350, 200, 400, 150, 500].map((v) => margin(v, l))).toEqual([
      1, 0.5, 0.5, 0, 0, -0.5, -1,
    ]);
  });

  it('is measured from the acceptance limits', () => {
    const l = limits({ lower: 0.1, upper: 0.5, guardBand: 0.1 });
    expect([0.3, 0.2, 0.4, 0.1].map((v) => margin(v, l))).toEqual([1, 0, 0, -1]);
  });

  it('is 1 at nominal where there is one limit, and more beyond it', () => {
    const upper = limits({ upper: 80, nominal: 60 });
    expect([40, 60, 70, 80, 90].map((v) => margin(v, upper))).toEqual([2, 1, 0.5, 0, -0.5]);
    const lower = limits({ lower: 100, guardBand: 10, nominal: 160 });
    expect([210, 160, 135, 110, 100].map((v) => margin(v, lower))).toEqual([2, 1, 0.5, 0, -0.2]);
  });

  it('does not exist without limits, or without a width to measure it by', () => {
    expect(margin(5, limits({ nominal: 5 }))).toBeNull();
    expect(margin(5, limits({ upper: 6 }))).toBeNull();
    expect(margin(5, limits({ upper: 6, nominal: 6 }))).toBeNull();
    expect(margin(5, limits({ lower: 1, upper: 6, guardBand: 2.5 }))).toBeNull();
  });

  it('stays a number and keeps its side at the ends of the number range', () => {
    const narrow = limits({ lower: 0, upper: 1e-10 });
    expect(margin(1.7e308, narrow)).toBe(-Number.MAX_VALUE);
    const wide = limits({ lower: 0, upper: 1e10 });
    expect(margin(-5e-324, wide)).toBe(-Number.MIN_VALUE);
    expect(margin(5e-324, wide)).toBe(Number.MIN_VALUE);
    expect(Object.is(margin(-0, wide), 0)).toBe(true);
  });
});

describe('a judged value', () => {
  it('on the acceptance limit conforms, and one step beyond it does not', () => {
    const guarded = { ...oilPressure, lower: 0.1, upper: 0.8, guardBand: 0.2 };
    const conforms = (v: number) => judged([guarded], [read('oil-pressure', v)]).verdict;
    expect(conforms(0.3)).toBe('pass');
    expect(conforms(0.6)).toBe('pass');
    expect(conforms(0.3 - 2 ** -53)).toBe('fail');
    expect(conforms(0.6 + 2 ** -52)).toBe('fail');
  });

  it('is not rounded to the decimals it is shown with', () => {
    // ASTM E29, absolute method: 400.4 would show as 400 and still exceeds 400.
    expect(judged([oilPressure], [read('oil-pressure', 400.4)]).verdict).toBe('fail');
  });

  it('is in the specification’s unit, untouched if posted in it', () => {
    expect(judgedValue(oilPressure, read('oil-pressure', 0.1 + 0.2))).toBe(0.1 + 0.2);
    expect(judgedValue(oilPressure, read('oil-pressure', 0.1 + 0.2, 'kPa'))).toBe(0.1 + 0.2);
    expect(judgedValue(oilPressure, read('oil-pressure', 3, 'bar'))).toBe(300);
    expect(judgedValue(coolantTemperature, read('coolant-temperature', 176, '[degF]'))).toBe(80);
    expect(() => judgedValue(oilPressure, read('oil-pressure', true))).toThrow(RangeError);
    expect(() => judgedValue(oilPressure, read('oil-pressure', 1, 'Cel'))).toThrow(RangeError);
  });

  it('on a limit conforms in whatever unit it is posted', () => {
    const run = judged([coolantTemperature], [read('coolant-temperature', 176, '[degF]')]);
    expect(run.judgements[0]).toMatchObject({ value: 80, conforms: true, margin: 0 });
  });

  it('carries its probability of conformance where the uncertainty is known', () => {
    const known = { ...oilPressure, standardUncertainty: 5 };
    const probability = (v: number) =>
      judged([known], [read('oil-pressure', v)]).judgements[0]?.conformanceProbability;
    expect(probability(200)).toBeCloseTo(0.5, 12);
    expect(probability(300)).toBeCloseTo(1, 12);
    expect(judged([oilPressure], [read('oil-pressure', 300)]).judgements[0]).toMatchObject({
      conformanceProbability: null,
    });
  });

  it('without limits is recorded and judged neither way', () => {
    const run = judged([coldPressure], [read('oil-pressure-cold', 1e6)]);
    expect(run).toEqual({
      verdict: 'pass',
      judgements: [
        {
          code: 'oil-pressure-cold',
          value: 1e6,
          conforms: null,
          margin: null,
          conformanceProbability: null,
        },
      ],
      failed: [],
    });
  });
});

describe('an attribute', () => {
  it('conforms if the answer is the expected one', () => {
    const answer = (value: boolean, expected: boolean) =>
      judged([{ ...telltale, expected }], [read('telltale', value)]).judgements[0];
    expect(answer(true, true)).toMatchObject({ value: true, conforms: true, margin: null });
    expect(answer(false, true)).toMatchObject({ value: false, conforms: false });
    expect(answer(false, false)).toMatchObject({ conforms: true });
  });
});

describe('a reading', () => {
  it('that is fine has no fault', () => {
    expect(readingFault(oilPressure, read('oil-pressure', 300))).toBeNull();
    expect(readingFault(oilPressure, read('oil-pressure', 3, 'bar'))).toBeNull();
    expect(readingFault(telltale, read('telltale', false))).toBeNull();
  });

  it.each([
    ['an answer where a number belongs', oilPressure, read('x', true), /takes a number/],
    ['a number where an answer belongs', telltale, read('x', 1), /true or false/],
    ['an answer with a unit', telltale, read('x', true, '1'), /without a unit/],
    ['a unit nobody knows', oilPressure, read('x', 1, 'kpa'), /"kpa" is not a UCUM code/],
    ['a unit of another quantity', oilPressure, read('x', 1, 'Cel'), /does not convert to kPa/],
    ['not a number', oilPressure, read('x', Number.NaN), /not a finite number/],
    ['an infinity', oilPressure, read('x', Number.POSITIVE_INFINITY, 'bar'), /not a finite/],
    ['too large to convert', oilPressure, read('x', 1.7e308, 'bar'), /too large/],
    ['posted for what is computed', pressureSpread, read('x', 1), /cannot be posted/],
  ])('cannot be %s', (_what, characteristic, reading, fault) => {
    expect(readingFault(characteristic, reading)).toMatch(fault);
  });
});

describe('a run', () => {
  const specification = [oilPressure, coolantTemperature, telltale, coldPressure, pressureSpread];
  const readings = [
    read('oil-pressure', 310),
    read('oil-pressure-cold', 3.4, 'bar'),
    read('coolant-temperature', 66),
    read('telltale', true),
  ];

  it('passes when everything conforms, judged in the specification’s order', () => {
    const run = judged(specification, readings);
    expect(run.verdict).toBe('pass');
    expect(run.failed).toEqual([]);
    expect(run.judgements.map((j) => [j.code, j.value, j.conforms])).toEqual([
      ['oil-pressure', 310, true],
      ['coolant-temperature', 66, true],
      ['telltale', true, true],
      ['oil-pressure-cold', 340, null],
      ['pressure-spread', 30, true],
    ]);
  });

  it('fails on one characteristic, and names all that fail in order', () => {
    const bad = [...readings, read('telltale', false), read('oil-pressure', 400.001)];
    const run = judged(specification, bad);
    expect(run.verdict).toBe('fail');
    expect(run.failed).toEqual(['oil-pressure', 'telltale', 'pressure-spread']);
  });

  it('counts the last reading of a code', () => {
    const twice = [read('oil-pressure', 100), read('oil-pressure', 300)];
    expect(judged([oilPressure], twice).verdict).toBe('pass');
    expect(judged([oilPressure], [...twice].reverse()).verdict).toBe('fail');
  });

  it('is not complete without a required value, and says what is missing and why', () => {
    expect(missing(specification, readings.slice(2))).toEqual([
      { code: 'oil-pressure', reason: 'no reading was posted' },
      { code: 'oil-pressure-cold', reason: 'no reading was posted' },
      {
        code: 'pressure-spread',
        reason: 'its input oil-pressure is missing: no reading was posted',
      },
    ]);
  });

  it('is complete without what is optional, which is then judged neither way', () => {
    const optional = specification.map((c) => ({ ...c, required: false }));
    const run = judged(optional, []);
    expect(run.verdict).toBe('pass');
    expect(run.judgements.every((j) => j.value === null && j.conforms === null)).toBe(true);
  });

  it('fails on an optional characteristic that was measured and does not conform', () => {
    const optional = { ...oilPressure, required: false };
    expect(judged([optional], [read('oil-pressure', 100)]).failed).toEqual(['oil-pressure']);
  });

  it('does not pass over a reading that cannot be taken, required or not', () => {
    const optional = { ...oilPressure, required: false };
    expect(missing([optional], [read('oil-pressure', 1, 'Cel')])[0]?.reason).toMatch(/convert/);
    expect(missing([optional], [read('oil-pressure', Number.NaN)])).toHaveLength(1);
    const posted = [...readings, read('pressure-spread', 0)];
    expect(missing(specification, posted)).toEqual([
      {
        code: 'pressure-spread',
        reason: 'pressure-spread is computed from other readings and cannot be posted',
      },
    ]);
  });

  it('is not complete where a required derivation has no answer', () => {
    const ratio: DerivedCharacteristic = {
      ...pressureSpread,
      code: 'pressure-ratio',
      unit: '1',
      derivation: { function: 'ratio', inputs: ['oil-pressure', 'oil-pressure-cold'] },
    };
    const zero = [read('oil-pressure', 300), read('oil-pressure-cold', 0)];
    expect(missing([oilPressure, coldPressure, ratio], zero)).toEqual([
      { code: 'pressure-ratio', reason: 'the second input is zero' },
    ]);
    const optional = { ...ratio, required: false };
    expect(judged([oilPressure, coldPressure, optional], zero).verdict).toBe('pass');
  });

  it('passes over readings of codes the specification does not have', () => {
    expect(judged([oilPressure], [read('oil-pressure', 300), read('other', 1)]).verdict).toBe(
      'pass',
    );
  });
});

describe('the default guard band', () => {
  it('needs an uncertainty above zero and a probability of at least one half', () => {
    expect(guardBandFor(2, 0.5)).toBe(0);
    for (const u of [0, -1, Number.NaN, Number.POSITIVE_INFINITY]) {
      expect(() => guardBandFor(u)).toThrow(RangeError);
    }
    for (const p of [0.49, 1, Number.NaN]) expect(() => guardBandFor(1, p)).toThrow(RangeError);
  });
});

describe('the probability of conformance', () => {
  it('does not exist without limits and needs an uncertainty above zero', () => {
    expect(conformanceProbability(1, { lower: null, upper: null }, 1)).toBeNull();
    expect(() => conformanceProbability(1, { lower: 0, upper: null }, 0)).toThrow(RangeError);
  });
});

describe('a specification', () => {
  const specification = [oilPressure, coolantTemperature, telltale, coldPressure, pressureSpread];

  it('that can judge has no faults', () => {
    expect(characteristicFaults(specification)).toEqual([]);
    expect(characteristicFaults([])).toEqual([]);
  });

  it('uses a code once', () => {
    expect(characteristicFaults([telltale, oilPressure, telltale])).toEqual([
      { index: 2, field: 'code', detail: 'telltale is used above already' },
    ]);
  });

  const measured = (change: Partial<MeasuredCharacteristic>) => ({ ...oilPressure, ...change });
  it.each([
    ['a unit of the table', measured({ unit: 'kpa' }), 'unit'],
    ['whole decimals', measured({ decimals: 1.5 }), 'decimals'],
    ['decimals from 0', measured({ decimals: -1 }), 'decimals'],
    ['decimals to 9', measured({ decimals: 10 }), 'decimals'],
    ['an uncertainty above zero', measured({ standardUncertainty: 0 }), 'standardUncertainty'],
    ['a finite uncertainty', measured({ standardUncertainty: Number.NaN }), 'standardUncertainty'],
    ['a finite lower limit', measured({ lower: Number.NEGATIVE_INFINITY }), 'lower'],
    ['a finite upper limit', measured({ upper: Number.NaN }), 'upper'],
    ['a finite guard band', measured({ guardBand: Number.NaN }), 'guardBand'],
    ['a finite nominal value', measured({ nominal: Number.NaN }), 'nominal'],
    ['an upper limit above the lower', measured({ lower: 400 }), 'upper'],
    ['a guard band not below zero', measured({ guardBand: -1 }), 'guardBand'],
    ['something left between the limits', measured({ guardBand: 100 }), 'guardBand'],
    ['a limit to guard', measured({ lower: null, upper: null, guardBand: 1 }), 'guardBand'],
    [
      'a limit within range',
      measured({ lower: 1.7e308, upper: null, guardBand: 1.7e308 }),
      'guardBand',
    ],
    ['a nominal value for a lower limit alone', measured({ upper: null }), 'nominal'],
    ['a nominal value for an upper limit alone', measured({ lower: null }), 'nominal'],
    ['nominal inside a lower limit', measured({ upper: null, nominal: 200 }), 'nominal'],
    ['nominal inside an upper limit', measured({ lower: null, nominal: 400 }), 'nominal'],
    [
      'nominal inside the acceptance limit',
      measured({ upper: null, nominal: 205, guardBand: 5 }),
      'nominal',
    ],
    ['nominal not below the limits', measured({ nominal: 199 }), 'nominal'],
    ['nominal not above the limits', measured({ nominal: 401 }), 'nominal'],
  ])('needs %s', (_what, characteristic, field) => {
    const faults = characteristicFaults([telltale, characteristic]);
    expect(faults.map((fault) => [fault.index, fault.field])).toEqual([[1, field]]);
    expect(faults[0]?.detail.length).toBeGreaterThan(10);
  });

  const derived = (change: Partial<DerivedCharacteristic>) => [
    oilPressure,
    coldPressure,
    telltale,
    coolantTemperature,
    { ...pressureSpread, ...change },
  ];
  const from = (name: string, ...inputs: string[]) => ({
    derivation: { function: name as 'spread', inputs },
  });
  it.each([
    ['one that exists', from('sum', 'oil-pressure'), 'derivation/function'],
    ['as many inputs as it takes', from('spread', 'oil-pressure'), 'derivation/inputs'],
    ['inputs that exist', from('spread', 'oil-pressure', 'nothing'), 'derivation/inputs/1'],
    ['measured inputs', from('spread', 'telltale', 'oil-pressure'), 'derivation/inputs/0'],
    ['not itself', from('spread', 'oil-pressure', 'pressure-spread'), 'derivation/inputs/1'],
    ['different inputs', from('spread', 'oil-pressure', 'oil-pressure'), 'derivation/inputs/1'],
    ['alike inputs', from('spread', 'oil-pressure', 'coolant-temperature'), 'derivation/inputs'],
    ['a unit the result has', { unit: 'Cel' }, 'unit'],
    ['a unit of the table', { unit: 'kpa' }, 'unit'],
    ['sound limits', { upper: -1 }, 'nominal'],
  ])('needs of a derivation: %s', (_what, change, field) => {
    const faults = characteristicFaults(derived(change));
    expect(faults.map((fault) => [fault.index, fault.field])).toEqual([[4, field]]);
  });

  it('lists every fault of every characteristic, in order', () => {
    const bad = [
      measured({ unit: 'kpa', decimals: 12, guardBand: -1 }),
      measured({ standardUncertainty: -1 }),
    ];
    expect(characteristicFaults(bad).map((f) => [f.index, f.field])).toEqual([
      [0, 'unit'],
      [0, 'decimals'],
      [0, 'guardBand'],
      [1, 'code'],
      [1, 'standardUncertainty'],
    ]);
  });
});
