/** How a CUSUM is to be tuned, in sigmas. */
export interface CusumOptions {
  /** k: so much off the target is let pass; half the shift to be found, 0.5 when not given. */
  allowance?: number;
  /** h: a sum beyond it signals; 5 when not given. */
  decisionInterval?: number;
}

/** The frozen yardstick of a tabular CUSUM, in the unit of its values. */
export interface CusumBaseline {
  /** The target. */
  centre: number;
  sigma: number;
  /** How far from the target a value may lie before it adds to a sum. */
  allowance: number;
  /** Where a sum signals: the limit of both. */
  decisionInterval: number;
}

/** A CUSUM between two values: plain data. */
export interface CusumState {
  readonly baseline: Readonly<CusumBaseline>;
  readonly count: number;
  readonly high: number;
  readonly low: number;
  /** The first point of the run in which the sum has been above 0; null while it is 0. */
  readonly highSince: number | null;
  readonly lowSince: number | null;
}

/** A sum has passed the decision interval at this point. */
export interface CusumSignal {
  rule: 'beyond-decision-interval';
  direction: 'above' | 'below';
  points: readonly [number];
  /** The first point of the run that led here: about when the shift began. */
  since: number;
}

/** The answer to one value. */
export interface CusumPoint {
  state: CusumState;
  high: number;
  low: number;
  signals: CusumSignal[];
}

/**
 * The baseline of a tabular (two one-sided sums) CUSUM about a target.
 *
 * Method: allowance k and decision interval h, given in sigmas, in the unit of the values.
 * Source: NIST/SEMATECH e-Handbook 6.3.2.3; Page, Biometrika 41 (1954) 100 (from memory).
 * Variant: k = 0.5 and h = 5 when not given, the textbook tuning for a shift of one sigma.
 * Domain: centre finite; sigma and decision interval above 0, allowance of 0 or more, all finite.
 * Accuracy: one rounding.
 *
 * @param from target and sigma as known, or an `individualsBaseline`.
 *
 * @example
 * cusumBaseline({ centre: 325, sigma: 1 }, { allowance: 0.3175, decisionInterval: 4.1959 });
 *
 * @throws RangeError outside the domain.
 */
export function cusumBaseline(
  from: Readonly<{ centre: number; sigma: number }>,
  { allowance = 0.5, decisionInterval = 5 }: CusumOptions = {},
): Readonly<CusumBaseline> {
  const { centre, sigma } = from;
  if (!Number.isFinite(centre)) throw new RangeError(`the target ${centre} is not finite`);
  if (!(sigma > 0 && Number.isFinite(sigma))) {
    throw new RangeError(`sigma is ${sigma}, not above zero and finite`);
  }
  if (!(allowance >= 0 && Number.isFinite(allowance))) {
    throw new RangeError(`the allowance ${allowance} is not finite and at least 0`);
  }
  if (!(decisionInterval > 0 && Number.isFinite(decisionInterval))) {
    throw new RangeError(`the decision interval ${decisionInterval} is not above zero and finite`);
  }
  return Object.freeze({
    centre,
    sigma,
    allowance: allowance * sigma,
    decisionInterval: decisionInterval * sigma,
  });
}

/** A CUSUM before its first value, and again after a cause was found: both sums at 0. */
export function startCusum(baseline: Readonly<CusumBaseline>): CusumState {
  return { baseline, count: 0, high: 0, low: 0, highSince: null, lowSince: null };
}

/**
 * Adds the next value to both sums: high = max(0, high + value - target - k), low =
 * max(0, low + target - k - value).
 *
 * A sum is not set back by its own signal: it signals at each point until it has come
 * down, or until the chart is started anew. On the interval is not beyond it.
 *
 * @throws RangeError when the value is not finite.
 *
 * @example
 * judgeCusum(startCusum(cusumBaseline({ centre: 10, sigma: 1 })), 12).high; // 1.5
 */
export function judgeCusum(state: CusumState, value: number): CusumPoint {
  if (!Number.isFinite(value)) throw new RangeError(`the value ${value} is not finite`);
  const { baseline, count } = state;
  const { centre, allowance, decisionInterval } = baseline;
  const high = Math.max(0, state.high + (value - centre - allowance));
  const low = Math.max(0, state.low + (centre - allowance - value));
  const highSince = high > 0 ? (state.highSince ?? count) : null;
  const lowSince = low > 0 ? (state.lowSince ?? count) : null;
  const signals: CusumSignal[] = [];
  const rule = 'beyond-decision-interval';
  if (high > decisionInterval && highSince !== null) {
    signals.push({ rule, direction: 'above', points: [count], since: highSince });
  }
  if (low > decisionInterval && lowSince !== null) {
    signals.push({ rule, direction: 'below', points: [count], since: lowSince });
  }
  const next = { baseline, count: count + 1, high, low, highSince, lowSince };
  return { state: next, high, low, signals };
}
