import type { Fault } from './floor.js';
import type { Random } from './random.js';

/** A characteristic as the service hands it out with a run. */
export interface Characteristic {
  kind: 'measured' | 'attribute' | 'derived';
  code: string;
  unit?: string;
  lower?: number | null;
  upper?: number | null;
  guardBand?: number;
  nominal?: number | null;
  decimals?: number;
  expected?: boolean;
}

export interface Prompt {
  characteristics: Characteristic[];
}

export interface Reading {
  code: string;
  value: number | boolean;
  unit?: string;
}

/** Air in the test hall, the same for all cells. */
export interface Air {
  dryPressureKpa: number;
  temperatureCelsius: number;
}

/** How much a reading of a sound engine scatters, in half widths of its acceptance zone. */
const SCATTER = 0.15;
/** Exhaust temperatures: between engines, and between the cylinders of one. */
const BETWEEN_ENGINES_K = 9;
const BETWEEN_CYLINDERS_K = 6;

/** Where a value should be and how far it may be off, from the limits it is judged by. */
function zoneOf(one: Characteristic): { middle: number; halfWidth: number } {
  const guardBand = one.guardBand ?? 0;
  const lower = one.lower == null ? null : one.lower + guardBand;
  const upper = one.upper == null ? null : one.upper - guardBand;
  if (lower !== null && upper !== null) {
    return { middle: (lower + upper) / 2, halfWidth: (upper - lower) / 2 };
  }
  const middle = one.nominal ?? lower ?? upper ?? 0;
  return { middle, halfWidth: Math.abs(middle - (lower ?? upper ?? middle)) };
}

/** The hall warms up over the shift while the barometer falls a little. */
export function airAt(hour: number): Air {
  return {
    dryPressureKpa: 100.4 - 0.12 * hour,
    temperatureCelsius: 18 + 5 * Math.sin((Math.PI * hour) / 11),
  };
}

/** Power correction factor by ISO 1585: (99/ps)^1.2 (T/298)^0.6. */
function correctionFactor({ dryPressureKpa, temperatureCelsius }: Air): number {
  return (99 / dryPressureKpa) ** 1.2 * ((temperatureCelsius + 273) / 298) ** 0.6;
}

/** A motor running in a cell: what its sensors would show, given what is wrong with it. */
export class Engine {
  readonly #exhaustOffset: number;
  readonly #correctedPower: Characteristic | undefined;

  constructor(
    prompts: readonly Prompt[],
    private readonly fault: Fault | null,
    private readonly air: Air,
    private readonly random: Random,
  ) {
    const all = prompts.flatMap((prompt) => prompt.characteristics);
    this.#correctedPower = all.find((one) => one.code === 'power-corrected');
    this.#exhaustOffset = random.normal(0, BETWEEN_ENGINES_K);
  }

  /** A reading of each characteristic that is not computed by the service itself. */
  readings(characteristics: readonly Characteristic[]): Reading[] {
    return characteristics
      .filter((one) => one.kind !== 'derived')
      .map((one) => ({ code: one.code, value: this.#value(one) }));
  }

  #value(one: Characteristic): number | boolean {
    if (one.kind === 'attribute') return this.fault?.answers?.[one.code] ?? one.expected ?? true;
    const value = this.#measured(one);
    // A digit more than is shown, as instruments give.
    return Number(value.toFixed((one.decimals ?? 3) + 1));
  }

  #measured(one: Characteristic): number {
    if (one.code === 'air-pressure') return this.random.normal(this.air.dryPressureKpa, 0.02);
    if (one.code === 'air-temperature') {
      return this.random.normal(this.air.temperatureCelsius, 0.2);
    }
    if (one.code === 'power' && this.#correctedPower) {
      return this.#inZone(this.#correctedPower) / correctionFactor(this.air);
    }
    if (one.code.startsWith('exhaust-temp-')) {
      const { middle, halfWidth } = zoneOf(one);
      const shift = this.#shift(one.code) * halfWidth;
      return middle + this.#exhaustOffset + shift + this.random.normal(0, BETWEEN_CYLINDERS_K);
    }
    return this.#inZone(one);
  }

  #inZone(one: Characteristic): number {
    const { middle, halfWidth } = zoneOf(one);
    if (this.fault?.inGuardBand === one.code && one.lower != null) {
      return one.lower + (one.guardBand ?? 0) / 2;
    }
    return middle + (this.#shift(one.code) + this.random.normal(0, SCATTER)) * halfWidth;
  }

  #shift(code: string): number {
    return this.fault?.shifts?.[code] ?? 0;
  }
}

/** Instruments of the older cells: what they show instead, by UCUM code. */
const OLDER: Record<string, { unit: string; from: (value: number) => number; decimals: number }> = {
  // 1 psi is 6.894757 kPa and 1 US gallon 3.785412 L (NIST SP 811, appendix B.8).
  kPa: { unit: '[psi]', from: (kPa) => kPa / 6.894757, decimals: 3 },
  Cel: { unit: '[degF]', from: (celsius) => celsius * 1.8 + 32, decimals: 1 },
  'L/h': { unit: '[gal_us]/h', from: (litres) => litres / 3.785412, decimals: 3 },
};

/** The readings as an older cell shows them: psi, degrees Fahrenheit, gallons. */
export function onOlderInstruments(
  readings: readonly Reading[],
  characteristics: readonly Characteristic[],
): Reading[] {
  const units = new Map(characteristics.map((one) => [one.code, one.unit ?? '']));
  return readings.map((reading) => {
    const older = OLDER[units.get(reading.code) ?? ''];
    if (!older || typeof reading.value !== 'number') return reading;
    const value = Number(older.from(reading.value).toFixed(older.decimals));
    return { ...reading, value, unit: older.unit };
  });
}
