import { type SortedSample, sortedQuantile } from './sorted-sample.js';

/** The most classes that a histogram is given: more could not be told apart on a page. */
export const histogramClassesMax = 100;

/** Counts by class. */
export interface Histogram {
  /** The ends of the classes, ascending, one more than there are classes. */
  edges: number[];
  /** Values from each edge, included, to the next, excluded; the last class has its end too. */
  counts: number[];
}

/**
 * A histogram whose class ends are round numbers.
 *
 * Method: the class width of Freedman and Diaconis, 2·IQR/∛n, rounded to the nearest of 1, 2
 * and 5 times a power of ten on a logarithmic scale, and wider as long as there would be more
 * than histogramClassesMax classes; classes begin at multiples of it.
 * Source: Freedman and Diaconis, Z. Wahrscheinlichkeitstheorie 57 (1981) 453 (from memory).
 * Variant: where the middle half of the values are equal, a twentieth of the range instead.
 * Domain: values in size below 1e15 times their range, and a range of 1e-300 to 1e300, or 0.
 * Accuracy: each value is counted by comparison with the ends as they are returned.
 * Cost: one pass.
 *
 * @returns one class of width 0 if all values are equal.
 *
 * @example
 * histogram(sortSample([1.2, 1.4, 1.6, 1.8, 2.1, 2.2, 2.3, 3.7]));
 * // { edges: [1, 1.5, 2, 2.5, 3, 3.5, 4], counts: [2, 2, 3, 0, 0, 1] }
 *
 * @throws RangeError outside the domain.
 */
export function histogram(sample: SortedSample): Histogram {
  const lowest = sortedQuantile(sample, 0);
  const highest = sortedQuantile(sample, 1);
  const count = sample.ascending.length;
  const range = highest - lowest;
  if (range === 0) return { edges: [lowest, highest], counts: [count] };
  if (!(range >= 1e-300 && range <= 1e300)) {
    throw new RangeError(
      `the range ${range} of the values is too small or too large to be divided`,
    );
  }
  const middleHalf = sortedQuantile(sample, 0.75) - sortedQuantile(sample, 0.25);
  const wanted = middleHalf === 0 ? range / 20 : (2 * middleHalf) / Math.cbrt(count);
  if (!(Math.max(Math.abs(lowest), Math.abs(highest)) < 1e15 * range)) {
    throw new RangeError('the values are too large for their differences');
  }
  const edges = roundEdges(lowest, highest, Math.max(wanted, range / (histogramClassesMax - 1)));
  const counts = new Array<number>(edges.length - 1).fill(0);
  let place = 0;
  for (const value of sample.ascending) {
    while (place < counts.length - 1 && value >= (edges[place + 1] ?? value)) place++;
    counts[place] = (counts[place] ?? 0) + 1;
  }
  return { edges, counts };
}

/** Multiples of a round step near the wanted one that take in both ends. */
function roundEdges(lowest: number, highest: number, wanted: number): number[] {
  let exponent = Math.floor(Math.log10(wanted));
  const leading = wanted / 10 ** exponent;
  // The borders are the geometric means of neighbours; 5·10 and 10 belong to the next decade.
  let digit =
    leading < Math.SQRT2 ? 1 : leading < Math.sqrt(10) ? 2 : leading < Math.sqrt(50) ? 5 : 10;
  for (;;) {
    if (digit === 10) {
      digit = 1;
      exponent++;
    }
    const step = digit;
    // Dividing by a power of ten, rather than multiplying by 0.1, gives the nearest double to 0.3.
    const scale = 10 ** Math.abs(exponent);
    const place = (k: number) => (exponent < 0 ? (k * step) / scale : k * step * scale);
    const unit = place(1);
    let from = Math.floor(lowest / unit);
    if (place(from) > lowest) from--;
    let to = Math.max(from + 1, Math.ceil(highest / unit));
    if (place(to) < highest) to++;
    if (to - from <= histogramClassesMax) {
      return Array.from({ length: to - from + 1 }, (_, k) => place(from + k) + 0);
    }
    digit = digit === 1 ? 2 : digit === 2 ? 5 : 10;
  }
}
