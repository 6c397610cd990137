const PAPER_STATE = [123456789, 362436069, 521288629, 88675123] as const;
const WARM_UP = 64;

/**
 * Pseudo-random numbers that are the same on every machine, so that every run of the
 * demo is the same shift: Marsaglia's xorshift128 (G. Marsaglia, "Xorshift RNGs",
 * Journal of Statistical Software 8(14), 2003, section 4). Period 2^128 - 1. Not for secrets.
 */
export class Random {
  #x: number;
  #y: number;
  #z: number;
  #w: number;

  /** @param state four words, not all zero; those of the paper where left out. */
  constructor(state: readonly [number, number, number, number] = PAPER_STATE) {
    [this.#x, this.#y, this.#z, this.#w] = state;
  }

  /** A sequence of its own for each part of the plant, so that one does not shift another's. */
  static stream(number: number): Random {
    let word = number >>> 0;
    // The quick generator of Numerical Recipes (2nd edition, section 7.1) fills the state.
    const next = (): number => {
      word = (Math.imul(word, 1664525) + 1013904223) >>> 0;
      return word;
    };
    const random = new Random([next(), next(), next(), next()]);
    // Neighbouring states begin alike; some draws part them.
    for (let i = 0; i < WARM_UP; i += 1) random.next();
    return random;
  }

  /** The next whole number, 0 to 2^32 - 1. */
  next(): number {
    const t = this.#x ^ (this.#x << 11);
    this.#x = this.#y;
    this.#y = this.#z;
    this.#z = this.#w;
    this.#w = (this.#w ^ (this.#w >>> 19) ^ (t ^ (t >>> 8))) >>> 0;
    return this.#w;
  }

  /** From 0, below 1. */
  uniform(): number {
    return this.next() / 2 ** 32;
  }

  /** A whole number from 0, below the count. */
  below(count: number): number {
    return Math.floor(this.uniform() * count);
  }

  chance(probability: number): boolean {
    return this.uniform() < probability;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.uniform();
  }

  /** Normally distributed, by Box and Muller's transform (1958). */
  normal(mean: number, deviation: number): number {
    const radius = Math.sqrt(-2 * Math.log(1 - this.uniform()));
    return mean + deviation * radius * Math.cos(2 * Math.PI * this.uniform());
  }

  /** A shuffled copy, by Durstenfeld's form of the Fisher-Yates shuffle (1964). */
  shuffled<T>(items: readonly T[]): T[] {
    const copy = [...items];
    for (let last = copy.length - 1; last > 0; last -= 1) {
      const chosen = this.below(last + 1);
      const moved = copy[last] as T;
      copy[last] = copy[chosen] as T;
      copy[chosen] = moved;
    }
    return copy;
  }
}
