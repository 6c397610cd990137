/** Where a point or a pattern lies or leads. Null where it has no side. */
export type Direction = 'above' | 'below' | 'rising' | 'falling' | null;

/** A rule met at the newest point. */
export interface RunSignal {
  rule: RunRule;
  direction: Direction;
  /** The points that make the pattern, counted from 0 at the chart's start, ascending; the newest is last. */
  points: readonly number[];
}

/** A signal with the chart that gave it, where one step judges two charts. */
export interface ChartSignal<Chart extends string> extends RunSignal {
  chart: Chart;
}

/** What the rules remember of the points so far: plain data, to be kept between points. */
export interface RunRuleState {
  readonly rules: readonly RunRule[];
  /** How many points were judged. */
  readonly count: number;
  /** The last points, oldest first, in sigmas from the centre line: as many as the longest pattern looks at. */
  readonly recent: readonly number[];
}

/** What a rule finds: the offsets into the recent points, or nothing. */
type Found = { direction: Direction; offsets: readonly number[] } | undefined;

interface Rule {
  /** How many points the rule looks at. */
  span: number;
  find: (recent: readonly number[]) => Found;
}

const ruleTable = {
  'beyond-three-sigma': shareBeyond(1, 1, 3),
  'two-of-three-beyond-two-sigma': shareBeyond(2, 3, 2),
  'four-of-five-beyond-one-sigma': shareBeyond(4, 5, 1),
  'eight-on-one-side': shareBeyond(8, 8, 0),
  'nine-on-one-side': shareBeyond(9, 9, 0),
  'six-rising-or-falling': { span: 6, find: steady },
  'fourteen-alternating': { span: 14, find: alternating },
  'fifteen-within-one-sigma': everyPoint(15, (z) => Math.abs(z) <= 1),
  'eight-outside-one-sigma': everyPoint(8, (z) => Math.abs(z) > 1),
} as const satisfies Record<string, Rule>;

/** The patterns that a chart can be asked to look for. */
export type RunRule = keyof typeof ruleTable;

/** All rules, each by its name. */
export const runRules: readonly RunRule[] = Object.freeze(Object.keys(ruleTable) as RunRule[]);

/**
 * The Western Electric rules with the two trend rules, as in NIST/SEMATECH e-Handbook 6.3.2
 * (from memory): 1 beyond three sigma, 2 of 3 beyond two, 4 of 5 beyond one, 8 on one side,
 * 6 rising or falling, 14 alternating.
 */
export const westernElectricRules: readonly RunRule[] = Object.freeze([
  'beyond-three-sigma',
  'two-of-three-beyond-two-sigma',
  'four-of-five-beyond-one-sigma',
  'eight-on-one-side',
  'six-rising-or-falling',
  'fourteen-alternating',
]);

/**
 * Nelson's eight tests, J. Quality Technology 16 (1984) 237, in his order; the numbers as
 * public glossaries quote them, the paper was not seen. Where Western Electric wants
 * eight on one side, he wants nine.
 */
export const nelsonRules: readonly RunRule[] = Object.freeze([
  'beyond-three-sigma',
  'nine-on-one-side',
  'six-rising-or-falling',
  'fourteen-alternating',
  'two-of-three-beyond-two-sigma',
  'four-of-five-beyond-one-sigma',
  'fifteen-within-one-sigma',
  'eight-outside-one-sigma',
]);

/**
 * The rules before the first point.
 *
 * @throws RangeError on an unknown rule or one named twice.
 */
export function startRunRules(rules: readonly RunRule[]): RunRuleState {
  for (const rule of rules) {
    if (!Object.hasOwn(ruleTable, rule)) throw new RangeError(`there is no rule ${rule}`);
  }
  if (new Set(rules).size < rules.length) throw new RangeError('a rule is named twice');
  return { rules: [...rules], count: 0, recent: [] };
}

/**
 * Judges the next point of a chart by the rules chosen at its start.
 *
 * Method: each rule looks at the last points, as many as it names, this one included.
 * Source: the publications named at `westernElectricRules` and `nelsonRules`.
 * Variant: a rule is met at a point that itself belongs to the pattern, and again at
 * each further point that prolongs it. Of "2 of 3" two points are enough where the chart
 * has no third yet. Beyond and outside exclude the line itself, within includes
 * it; a point on the centre line is on no side; equal neighbours end a trend and an
 * alternation. `eight-outside-one-sigma` does not ask that both sides occur.
 * Domain: a finite distance from the centre line, in sigmas of this very point.
 * Accuracy: exact on the distance given.
 *
 * @returns the state to keep and the rules met, in the order they were chosen; the given
 * state is not changed.
 *
 * @example
 * const { state } = judgeRunRules(startRunRules(['two-of-three-beyond-two-sigma']), 2.5);
 * judgeRunRules(state, 2.1).signals;
 * // [{ rule: 'two-of-three-beyond-two-sigma', direction: 'above', points: [0, 1] }]
 *
 * @throws RangeError outside the domain.
 */
export function judgeRunRules(
  state: RunRuleState,
  sigmasFromCentre: number,
): { state: RunRuleState; signals: RunSignal[] } {
  if (!Number.isFinite(sigmasFromCentre)) {
    throw new RangeError(`the distance ${sigmasFromCentre} from the centre line is not finite`);
  }
  const { rules } = state;
  const memory = rules.reduce((longest, rule) => Math.max(longest, ruleTable[rule].span), 0);
  const seen = [...state.recent, sigmasFromCentre];
  const count = state.count + 1;
  const signals = rules.flatMap((rule) => {
    const { span, find } = ruleTable[rule];
    const recent = seen.slice(-span);
    const found = find(recent);
    if (found === undefined) return [];
    const first = count - recent.length;
    const points = found.offsets.map((offset) => first + offset);
    return [{ rule, direction: found.direction, points }];
  });
  return { state: { rules, count, recent: memory === 0 ? [] : seen.slice(-memory) }, signals };
}

/** So many of the last points lie further out than this, on the side of the newest. */
function shareBeyond(wanted: number, span: number, sigmas: number): Rule {
  const find = (recent: readonly number[]): Found => {
    const newest = recent.at(-1) ?? 0;
    const side = Math.sign(newest);
    const beyond = (z: number) => z * side > sigmas;
    const offsets = [...recent.keys()].filter((offset) => beyond(recent[offset] ?? 0));
    if (!beyond(newest) || offsets.length < wanted) return undefined;
    return { direction: side > 0 ? 'above' : 'below', offsets };
  };
  return { span, find };
}

function everyPoint(span: number, holds: (z: number) => boolean): Rule {
  const find = (recent: readonly number[]): Found =>
    recent.length === span && recent.every(holds)
      ? { direction: null, offsets: [...recent.keys()] }
      : undefined;
  return { span, find };
}

function steady(recent: readonly number[]): Found {
  const steps = stepSigns(recent);
  if (steps.length < 5) return undefined;
  const offsets = [...recent.keys()];
  if (steps.every((step) => step > 0)) return { direction: 'rising', offsets };
  if (steps.every((step) => step < 0)) return { direction: 'falling', offsets };
  return undefined;
}

function alternating(recent: readonly number[]): Found {
  const steps = stepSigns(recent);
  if (steps.length < 13) return undefined;
  const turns = steps.every((step, at) => step !== 0 && step !== steps[at - 1]);
  return turns ? { direction: null, offsets: [...recent.keys()] } : undefined;
}

/** 1 for each step up, -1 for each down, 0 between equals. */
function stepSigns(recent: readonly number[]): number[] {
  return recent.slice(1).map((z, before) => Math.sign(z - (recent[before] ?? z)));
}
