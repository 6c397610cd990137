import { areCommensurable, convert } from '../measurement/units.js';
import { globalRisks, truePopulation } from '../statistics/conformity-risk.js';
import { type Moments, moments } from '../statistics/moments.js';
import { acceptanceLimits, type Characteristic } from '../testing/rules.js';
import { type Bounds, intervalRatio } from './bounds.js';
import { quickNormalCdf } from './quick-normal-cdf.js';
import type { Check } from './rules.js';

/** The standard uncertainty of one value of a characteristic. */
export interface Uncertainty {
  value: number;
  /** UCUM code. */
  unit: string;
  statedBy: 'trial' | 'past';
}

/** An uncertainty in a check's unit; null if there is none, or it is of something else. */
export function uncertaintyIn(
  { unit }: Check,
  uncertainty: Uncertainty | undefined,
): number | null {
  if (unit === null || !uncertainty || !areCommensurable(uncertainty.unit, unit)) return null;
  return uncertainty.value * intervalRatio(uncertainty.unit, unit);
}

/**
 * For each run that is asked about, the probability that the true value lies within the
 * tolerance, if it is normally distributed about the measured one; NaN where nothing was
 * measured.
 *
 * Source: JCGM 106:2012, 7, as `conformanceProbability` takes single values.
 * Accuracy: absolute 2e-14.
 *
 * @param uncertainty standard, in the values' unit; null: the values are taken as true
 */
export function conformanceOf(
  values: Float64Array,
  rows: readonly number[],
  { lower, upper }: Bounds,
  uncertainty: number | null,
): Float64Array {
  const probabilities = new Float64Array(values.length).fill(Number.NaN);
  for (const row of rows) {
    const value = values[row] as number;
    if (Number.isNaN(value)) continue;
    if (uncertainty === null) probabilities[row] = value >= lower && value <= upper ? 1 : 0;
    else {
      const below = quickNormalCdf((lower - value) / uncertainty);
      const above = quickNormalCdf((value - upper) / uncertainty);
      probabilities[row] = Math.max(0, 1 - below - above);
    }
  }
  return probabilities;
}

/** Expected numbers of wrong verdicts. */
export interface ExpectedErrors {
  /** Accepted, though not conforming. */
  falseAccepts: number;
  /** Rejected, though conforming. */
  falseRejects: number;
}

/** Sums what verdicts are expected to be wrong; each by itself, see `expectedVerdictErrors`. */
export class ErrorSum implements ExpectedErrors {
  falseAccepts = 0;
  falseRejects = 0;

  add(accepted: boolean, conformance: number): void {
    if (accepted) this.falseAccepts += 1 - conformance;
    else this.falseRejects += conformance;
  }
}

/** Values of this size are no readings, and their squares are beyond the largest double. */
const LARGEST = 1e100;

/**
 * What is needed of a sample in parts to know its mean and spread.
 *
 * Method: the parts' moments are joined by their count, mean and sum of squares.
 * Source: Chan, Golub and LeVeque, Amer. Statist. 37 (1983) 242, formula of pairwise joining.
 * Accuracy: as `moments` for each part, a rounding for each part on top.
 */
export class Pool {
  count = 0;
  /** Whether a value was beyond reckoning with; there are no moments then. */
  tooLarge = false;
  #mean = 0;
  #squares = 0;

  /** The values of some runs, but for those where nothing was measured. */
  static of(values: Float64Array, rows: readonly number[]): Pool {
    const measured = new Float64Array(rows.length);
    let count = 0;
    for (const row of rows) {
      const value = values[row] as number;
      if (Number.isNaN(value)) continue;
      measured[count] = value;
      count += 1;
    }
    const pool = new Pool();
    pool.#add(measured.subarray(0, count));
    return pool;
  }

  #add(sample: Float64Array): void {
    const [first] = sample;
    if (sample.some((value) => Math.abs(value) > LARGEST)) {
      this.tooLarge = true;
      this.count += sample.length;
    } else if (first !== undefined && sample.length === 1) {
      this.#join(1, first, 0);
    } else if (first !== undefined) {
      const { count, mean, standardDeviation } = moments(sample);
      this.#join(count, mean, standardDeviation ** 2 * (count - 1));
    }
  }

  join(other: Pool): void {
    this.tooLarge ||= other.tooLarge;
    if (other.count > 0) this.#join(other.count, other.#mean, other.#squares);
  }

  /** Null below two values, and where one is too large. */
  moments(): Moments | null {
    if (this.count < 2 || this.tooLarge) return null;
    const standardDeviation = Math.sqrt(this.#squares / (this.count - 1));
    return { count: this.count, mean: this.#mean, standardDeviation };
  }

  /** The same sample in another unit. */
  in(from: string, to: string): Pool {
    const other = new Pool();
    other.count = this.count;
    other.tooLarge = this.tooLarge;
    other.#mean = convert(this.#mean, from, to);
    other.#squares = this.#squares * intervalRatio(from, to) ** 2;
    return other;
  }

  #join(count: number, mean: number, squares: number): void {
    const total = this.count + count;
    const step = mean - this.#mean;
    this.#mean += (step * count) / total;
    this.#squares += squares + (step * step * this.count * count) / total;
    this.count = total;
  }
}

/** Risks of one characteristic by the limits of one side, recorded or trial. */
export class RiskTally {
  values = 0;
  readonly errors = new ErrorSum();
  readonly #pools = new Map<string, Pool>();

  /**
   * Adds the values of some runs.
   * @param conformance see `conformanceOf`
   * @param sample the same values
   */
  add(
    { acceptance: { lower, upper }, unit }: Check,
    values: Float64Array,
    rows: readonly number[],
    conformance: Float64Array,
    sample: Pool,
  ): void {
    for (const row of rows) {
      const value = values[row] as number;
      if (Number.isNaN(value)) continue;
      this.errors.add(value >= lower && value <= upper, conformance[row] as number);
    }
    this.values += sample.count;
    const pool = this.#pools.get(unit ?? '') ?? new Pool();
    this.#pools.set(unit ?? '', pool);
    pool.join(sample);
  }

  /**
   * The global risks of a characteristic's limits for a normal population that spreads as
   * all values do, less the uncertainty; in words why there are none.
   * @param uncertainty standard, in the characteristic's unit
   */
  ofPopulation(
    characteristic: Exclude<Characteristic, { kind: 'attribute' }>,
    uncertainty: number,
  ): PopulationRisks | string {
    const pooled = this.#pooledIn(characteristic.unit);
    if (pooled.tooLarge) return 'A value is too large to reckon with.';
    const readings = pooled.moments();
    if (!readings) return 'Fewer than two values were measured.';
    const population = truePopulation(readings, uncertainty);
    if (!population) return 'The values spread no more than the measurement alone would make them.';
    const { consumer, producer } = globalRisks(population, {
      tolerance: { lower: characteristic.lower, upper: characteristic.upper },
      acceptance: acceptanceLimits(characteristic),
      standardUncertainty: uncertainty,
    });
    return { consumer, producer };
  }

  #pooledIn(unit: string): Pool {
    const pooled = new Pool();
    for (const [own, part] of this.#pools) {
      if (areCommensurable(own, unit)) pooled.join(part.in(own, unit));
    }
    return pooled;
  }
}

/** Shares of everything measured, 0 to 1. */
export interface PopulationRisks {
  consumer: number;
  producer: number;
}

/** The probability that all of a run conforms, where the errors of its values are independent. */
export class WholeConformance {
  readonly product: Float64Array;

  constructor(count: number) {
    this.product = new Float64Array(count).fill(1);
  }

  multiply(conformance: Float64Array, rows: readonly number[]): void {
    for (const row of rows) {
      const one = conformance[row] as number;
      if (!Number.isNaN(one)) this.product[row] = (this.product[row] as number) * one;
    }
  }
}
