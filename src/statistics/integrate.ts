/** Beyond this many halvings a piece is taken as it is: a jump, which the integrands here have not. */
const halvingsMax = 12;

/** The two rules agree to this share; the better one then has about twice the digits. */
const agreement = 1e-8;

/** A piece below this is not worth its last digits, which underflow takes anyway. */
const negligible = 1e-30;

/** Kronrod's places on 0..1 with their weights, and Gauss's weight where the place is his too. */
const places: readonly (readonly [place: number, kronrod: number, gauss: number])[] = [
  [0.9914553711208126, 0.022935322010529224, 0],
  [0.9491079123427585, 0.06309209262997856, 0.1294849661688697],
  [0.8648644233597691, 0.10479001032225017, 0],
  [0.7415311855993945, 0.14065325971552592, 0.27970539148927664],
  [0.5860872354676911, 0.1690047266392679, 0],
  [0.4058451513773972, 0.19035057806478542, 0.3818300505051189],
  [0.20778495500789848, 0.20443294007529889, 0],
];
const kronrodMiddle = 0.20948214108472782;
const gaussMiddle = 0.4179591836734694;

/**
 * The integral of a smooth function over an interval.
 *
 * Method: Gauss-Kronrod rules of 7 and 15 points, halving the interval until they agree.
 * Source: Piessens and others, QUADPACK (1983); places and weights as in SciPy.
 * Domain: finite ends, and a function that is smooth between them.
 * Accuracy: relative 1e-13 for a function that does not change its sign, or absolute 1e-28.
 * Cost: 15 calls a piece.
 *
 * @example
 * integrate((x) => x * x, 0, 3); // 9
 */
export function integrate(f: (x: number) => number, from: number, to: number, depth = 0): number {
  const middle = from + (to - from) / 2;
  const half = (to - from) / 2;
  const centre = f(middle);
  let kronrod = kronrodMiddle * centre;
  let gauss = gaussMiddle * centre;
  for (const [place, kronrodWeight, gaussWeight] of places) {
    const both = f(middle - half * place) + f(middle + half * place);
    kronrod += kronrodWeight * both;
    gauss += gaussWeight * both;
  }
  const whole = half * kronrod;
  const doubt = Math.abs(whole - half * gauss);
  if (doubt <= agreement * Math.abs(whole) + negligible || depth === halvingsMax) return whole;
  return integrate(f, from, middle, depth + 1) + integrate(f, middle, to, depth + 1);
}
