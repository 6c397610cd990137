import { describe, expect, it } from 'vitest';
import { Random } from '../../seed/random.js';

describe('the demo’s random numbers', () => {
  it('are those of xorshift128 from the state in its paper', () => {
    const random = new Random();
    const drawn = Array.from({ length: 5 }, () => random.next());
    // G. Marsaglia, Xorshift RNGs (2003), state x=123456789 y=362436069 z=521288629
    // w=88675123; the five values from memory.
    expect(drawn).toEqual([3701687786, 458299110, 2500872618, 3633119408, 516391518]);
  });

  it('differ from stream to stream and repeat within one', () => {
    const first = Array.from({ length: 50 }, (_, number) => Random.stream(number).next());
    expect(new Set(first).size).toBe(50);
    expect(Array.from({ length: 50 }, (_, number) => Random.stream(number).next())).toEqual(first);
  });

  it('have the mean and the deviation of the normal distribution asked for', () => {
    const random = Random.stream(7);
    const count = 20_000;
    const drawn = Array.from({ length: count }, () => random.normal(10, 2));
    const mean = drawn.reduce((all, one) => all + one, 0) / count;
    const variance = drawn.reduce((all, one) => all + (one - mean) ** 2, 0) / (count - 1);
    // Five standard errors: 2/√n of the mean, 2/√(2n) of the deviation.
    expect(Math.abs(mean - 10)).toBeLessThan((5 * 2) / Math.sqrt(count));
    expect(Math.abs(Math.sqrt(variance) - 2)).toBeLessThan((5 * 2) / Math.sqrt(2 * count));
  });
});
