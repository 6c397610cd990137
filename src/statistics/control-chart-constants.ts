/** The factors that turn the spread within subgroups of one size into sigma and three-sigma limits. */
export interface ControlChartConstants {
  /** The number of values in each subgroup. */
  size: number;
  /** Mean of the range of that many standard normal values. */
  d2: number;
  /** Standard deviation of that range. */
  d3: number;
  /** Mean of their standard deviation. */
  c4: number;
  /** Limits of a subgroup mean: grand mean ± A2 · mean range. */
  A2: number;
  /** Limits of a subgroup mean: grand mean ± A3 · mean standard deviation. */
  A3: number;
  /** Lower and upper limit of a range, as multiples of the mean range. */
  D3: number;
  D4: number;
  /** Lower and upper limit of a standard deviation, as multiples of the mean one. */
  B3: number;
  B4: number;
}

/** The subgroup sizes that the tables print. */
export const subgroupSizeMin = 2;
export const subgroupSizeMax = 25;

/**
 * d2 and d3 for sizes 2 to 25: the integrals of w and w² over the density of the range,
 * n(n - 1) ∫ φ(c - w/2) φ(c + w/2) [Φ(c + w/2) - Φ(c - w/2)]^(n-2) dc, taken with 30 digits.
 * A test repeats the integration in doubles.
 */
const rangeMoments: readonly (readonly [d2: number, d3: number])[] = [
  [1.1283791670955126, 0.8525024664274217],
  [1.692568750643269, 0.8883680040452043],
  [2.058750746007928, 0.8798082028249833],
  [2.325928947281039, 0.8640819410995041],
  [2.534412721222943, 0.8480396861174953],
  [2.7043567512138087, 0.8332053356222937],
  [2.8472006120905555, 0.819831489791944],
  [2.970026324418474, 0.8078342745533225],
  [3.077505461670346, 0.7970506735194112],
  [3.1728727038160005, 0.7873146205503282],
  [3.258455279743826, 0.7784783412033844],
  [3.335980354098255, 0.7704162020637548],
  [3.406763108199953, 0.7630230956247903],
  [3.4718268898820748, 0.7562114297279439],
  [3.531982786109576, 0.7499080894099159],
  [3.5878839617653817, 0.7440517839607315],
  [3.6400637579374444, 0.7385908533781778],
  [3.6889630232076493, 0.7334814955188684],
  [3.734950119596641, 0.7286863457073052],
  [3.778335829842621, 0.724173340717499],
  [3.8193846433628327, 0.7199148084342234],
  [3.858323423285007, 0.7158867354918145],
  [3.8953481484513564, 0.7120681751479372],
  [3.930629219507113, 0.708440765888655],
];

/**
 * The control chart constants for one subgroup size.
 *
 * Method: d2 and d3 from a table of the two integrals; c4 = √(2/(n-1)) Γ(n/2) / Γ((n-1)/2),
 * the ratio of gamma functions by its recurrence; the rest are three-sigma limits:
 * A2 = 3/(d2 √n), A3 = 3/(c4 √n), D3, D4 = 1 ∓ 3 d3/d2, B3, B4 = 1 ∓ 3 √(1 - c4²)/c4.
 * Source: the definitions; formulas as in NIST/SEMATECH e-Handbook 6.3.2.1 (from memory).
 * Variant: unrounded. Printed tables round d2 and d3 first, so that their D3 and D4 differ by up
 * to 0.001. D3 and B3 are 0 where the formula would be negative.
 * Domain: whole sizes from 2 to 25.
 * Accuracy: relative 1e-15; D3 and B3 absolute 1e-15.
 *
 * @example
 * controlChartConstants(5).d2; // 2.3259
 * controlChartConstants(5).A2; // 0.5768
 *
 * @throws RangeError outside the domain.
 */
export function controlChartConstants(size: number): Readonly<ControlChartConstants> {
  const moments = rangeMoments[size - subgroupSizeMin];
  if (moments === undefined) {
    throw new RangeError(
      `the subgroup size ${size} is not a whole number from ${subgroupSizeMin} to ${subgroupSizeMax}`,
    );
  }
  const [d2, d3] = moments;
  const c4 = meanStandardDeviation(size);
  const rangeReach = (3 * d3) / d2;
  const deviationReach = (3 * Math.sqrt(1 - c4 * c4)) / c4;
  return Object.freeze({
    size,
    d2,
    d3,
    c4,
    A2: 3 / (d2 * Math.sqrt(size)),
    A3: 3 / (c4 * Math.sqrt(size)),
    D3: Math.max(0, 1 - rangeReach),
    D4: 1 + rangeReach,
    B3: Math.max(0, 1 - deviationReach),
    B4: 1 + deviationReach,
  });
}

/** c4. The ratio Γ(n/2) / Γ((n-1)/2) is 1/√π at 2 and (n-1)/2 over itself at each step up. */
function meanStandardDeviation(size: number): number {
  let ratio = 1 / Math.sqrt(Math.PI);
  for (let n = 2; n < size; n++) ratio = (n - 1) / 2 / ratio;
  return Math.sqrt(2 / (size - 1)) * ratio;
}
