import { normalCdf } from '../statistics/normal-cdf.js';

/** Beyond it nothing is left that counts: Φ(-8) is 6e-16. */
const REACH = 8;
const STEPS = 1024;
const DENSITY = 1 / Math.sqrt(2 * Math.PI);

/** Φ at each step from -REACH to REACH, and its slope there, a step wide. */
let table: { values: Float64Array; slopes: Float64Array } | undefined;

/**
 * The standard normal distribution function for sums over very many values, where Φ itself
 * took four fifths of a trial of a million runs (120 ns a value against 10).
 *
 * Method: a table with the density as slope, and cubic Hermite interpolation.
 * Domain: z any number or ±Infinity.
 * Accuracy: absolute 1e-14, so relative accuracy is lost where Φ is that small; use
 * `normalCdf` for single values.
 */
export function quickNormalCdf(z: number): number {
  if (z <= -REACH) return 0;
  if (z >= REACH) return 1;
  table ??= makeTable();
  const { values, slopes } = table;
  const place = (z + REACH) * STEPS;
  const step = Math.floor(place);
  const part = place - step;
  const from = values[step] as number;
  const rise = (values[step + 1] as number) - from;
  const [start, end] = [slopes[step] as number, slopes[step + 1] as number];
  return (
    from + part * (start + part * (3 * rise - 2 * start - end + part * (start + end - 2 * rise)))
  );
}

function makeTable() {
  const values = new Float64Array(2 * REACH * STEPS + 2);
  const slopes = new Float64Array(values.length);
  for (let step = 0; step < values.length; step += 1) {
    const z = step / STEPS - REACH;
    values[step] = normalCdf(z);
    slopes[step] = (DENSITY * Math.exp((-z * z) / 2)) / STEPS;
  }
  return { values, slopes };
}
