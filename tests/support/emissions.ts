import type { TestPlant } from './plant.js';
import { setMotor } from './scenario.js';

/**
 * An engine family of F100L with two test periods: 1 March to 8 June and 9 June to 16 September.
 * Standards of 40 CFR 1045.103 for 73.5 kW: 2.1 + 0.09 · (151 + 557 / 73.5^0.9) = 16.7 to the
 * nearest 0.1, and 300. The deterioration factors are invented.
 */
export function engineFamily(more: Record<string, unknown> = {}) {
  return {
    code: 'TBM26-F100',
    modelYear: 2026,
    models: ['F100L'],
    productionFrom: '2026-03-01',
    productionUntil: '2026-09-16',
    projectedVolume: 1600,
    pollutants: [
      {
        pollutant: 'HC+NOx',
        basis: 'standard',
        standard: 16.7,
        unit: 'g/(kW.h)',
        decimals: 1,
        deterioration: { kind: 'multiplicative', factor: 1.05 },
      },
      {
        pollutant: 'CO',
        basis: 'standard',
        standard: 300,
        unit: 'g/(kW.h)',
        decimals: 0,
        deterioration: { kind: 'additive', amount: 2 },
      },
    ],
    ...more,
  };
}

/** A family with one pollutant and a standard of 20, so that results have one decimal. */
export function plainFamily(code: string, more: Record<string, unknown> = {}) {
  return engineFamily({
    code,
    projectedVolume: 800,
    pollutants: [
      {
        pollutant: 'HC+NOx',
        basis: 'fel',
        standard: 20,
        unit: 'g/(kW.h)',
        decimals: 0,
        deterioration: { kind: 'additive', amount: 0 },
      },
    ],
    ...more,
  });
}

/** Sets fresh motors of F100L and returns their serials. */
export async function setMotors(plant: TestPlant, count: number): Promise<string[]> {
  const motors: string[] = [];
  for (let i = 0; i < count; i++) motors.push((await setMotor(plant)).motor);
  return motors;
}

export interface Drawn {
  id: number;
  population: number;
  leftOut: number;
  populationDigest: string;
  seed: string;
  drawn: { motor: string; link: string }[];
}

/** Draws engines of a family and returns their serials. */
export async function draw(
  plant: TestPlant,
  family: string,
  count: number,
  more: Record<string, unknown> = {},
): Promise<string[]> {
  const address = `/v1/engine-families/${family}/draws`;
  const made = await plant.make<Drawn>('quality', address, { count, ...more });
  return made.drawn.map((one) => one.motor);
}
