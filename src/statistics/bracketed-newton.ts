/** The value of an increasing function at a place, and its slope there. */
export interface Height {
  value: number;
  slope: number;
}

/** Past this step the error of Newton's next one is its square, below a double's last digit. */
const lastStep = 1e-9;

/**
 * Where an increasing function is zero.
 *
 * Method: Newton's steps, kept within the places known to lie below and above the zero;
 * where a step would leave them, halfway between, or twice as far out while one is unknown.
 * Domain: a function defined everywhere, increasing and smooth; it may be ±Infinity far out.
 * Accuracy: that of the function near its zero, absolute 1e-15 or relative 1e-15.
 * Cost: some 5 to 30 calls, at most 300.
 *
 * @example
 * bracketedNewton((u) => ({ value: Math.exp(u) - 2, slope: Math.exp(u) }), 0); // ln 2
 *
 * @throws RangeError if there is no zero within reach.
 */
export function bracketedNewton(at: (place: number) => Height, start: number): number {
  let below = Number.NEGATIVE_INFINITY;
  let above = Number.POSITIVE_INFINITY;
  let place = start;
  let reach = 1;
  for (let call = 0; call < 300; call++) {
    const { value, slope } = at(place);
    if (value === 0) return place;
    if (value < 0) below = place;
    else above = place;
    let next = place - value / slope;
    if (!(next > below && next < above)) {
      if (above - below < Number.POSITIVE_INFINITY) next = below + (above - below) / 2;
      else next = value < 0 ? place + reach : place - reach;
      reach *= 2;
      if (next === below || next === above) return next;
    } else if (Math.abs(next - place) <= lastStep) {
      return next;
    }
    place = next;
  }
  throw new RangeError('no zero was found');
}
