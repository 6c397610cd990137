import type { z } from 'zod';
import type { specificationDraft } from '../../../src/catalogue/specification-schema.js';

type Draft = z.output<typeof specificationDraft>;

/** Readings of a run: one of each characteristic. */
export const READINGS_A_RUN = 40;

interface Quantity {
  code: string;
  unit: string;
  middle: number;
  half: number;
  /** The unit that the cell posts in, and what it multiplies by; the specification's where absent. */
  posted?: { unit: string; factor: number };
}

/** Invented figures in plausible ranges: eight quantities at each of five speeds. */
const quantities: readonly Quantity[] = [
  { code: 'speed', unit: '/min', middle: 3000, half: 100 },
  { code: 'water-pressure', unit: 'kPa', middle: 100, half: 50 },
  {
    code: 'oil-pressure',
    unit: 'kPa',
    middle: 350,
    half: 100,
    posted: { unit: '[psi]', factor: 1 / 6.894757293168361 },
  },
  { code: 'exhaust-temperature', unit: 'Cel', middle: 450, half: 120 },
  { code: 'coolant-temperature', unit: 'Cel', middle: 65, half: 15 },
  { code: 'fuel-flow', unit: 'L/h', middle: 20, half: 6 },
  { code: 'voltage', unit: 'V', middle: 13.8, half: 0.9 },
  { code: 'current', unit: 'A', middle: 18, half: 9 },
];
const steps = ['idle', 'low', 'half', 'high', 'full'];
/** The last of the forty is an answer to a question. */
const TELLTALE = 'telltale';

const measured = steps
  .flatMap((step) => quantities.map((quantity) => ({ step, quantity })))
  .slice(0, READINGS_A_RUN - 1);

/** A specification of forty characteristics in five prompts. */
export function fortyCharacteristics(model: string): Draft {
  const prompts = steps.map((step) => ({
    text: `Run at ${step} speed`,
    caution: 'Moving parts, hot surfaces, exhaust: stay outside the guard.',
    characteristics: measured
      .filter((one) => one.step === step)
      .map(({ quantity: { code, unit, middle, half } }) => ({
        kind: 'measured' as const,
        code: `${step}-${code}`,
        name: `${code.replaceAll('-', ' ')} at ${step}`,
        unit,
        lower: middle - half,
        upper: middle + half,
        guardBand: half / 50,
        decimals: 2,
      })),
  }));
  const telltale = {
    kind: 'attribute' as const,
    code: TELLTALE,
    name: 'Telltale runs',
    expected: true,
  };
  const asking = { text: 'Look at the telltale', caution: null, characteristics: [telltale] };
  return { model, note: 'Benchmark', prompts: [...prompts, asking] };
}

/** Numbers in [0, 1) that are the same every time: Lehmer's generator, MINSTD (Park and Miller 1988). */
export function repeatable(seed: number): () => number {
  const modulus = 2 ** 31 - 1;
  let state = (seed % (modulus - 1)) + 1;
  return () => {
    state = (state * 48_271) % modulus;
    return (state - 1) / (modulus - 1);
  };
}

export interface PostedReading {
  code: string;
  value: number | boolean;
  unit?: string;
}

/** Forty readings inside their limits, or with the last value past its limit. */
export function readingsOf(random: () => number, conforming = true): PostedReading[] {
  const values = measured.map(({ step, quantity }, i): PostedReading => {
    const { code, middle, half, posted } = quantity;
    const outside = !conforming && i === measured.length - 1;
    const share = outside ? 1.2 : (random() - 0.5) * 1.8;
    const value = (middle + share * half) * (posted?.factor ?? 1);
    // Six digits, as a cell's instruments give them.
    const rounded = Number(value.toPrecision(6));
    return {
      code: `${step}-${code}`,
      value: rounded,
      ...(posted ? { unit: posted.unit } : {}),
    };
  });
  return [...values, { code: TELLTALE, value: true }];
}
