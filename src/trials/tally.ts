import type { Plant } from '../plant.js';
import { Outcome } from '../series/block.js';
import type { Bounds } from './bounds.js';
import { type CheckValues, isTrialFirstPass, type JudgedBlock, type PastPlan } from './replay.js';
import {
  conformanceOf,
  ErrorSum,
  Pool,
  RiskTally,
  type Uncertainty,
  uncertaintyIn,
  WholeConformance,
} from './risks.js';
import { type Check, isLimited, sideOf, type Turn } from './rules.js';

/** Runs whose verdict changes for a characteristic. */
export interface Cause {
  runs: number;
  below: number;
  above: number;
}

/** What is counted of one characteristic. */
export class CharacteristicTally {
  readonly passToFail: Cause = { runs: 0, below: 0, above: 0 };
  readonly failToPass: Cause = { runs: 0, below: 0, above: 0 };
  /** Runs that cannot be judged for want of its value. */
  lacking = 0;
  readonly recorded = new RiskTally();
  readonly trial = new RiskTally();
}

/** Counts what a trial says of its runs, block by block. */
export class TrialTally {
  readonly turns: Record<Turn, number> = {
    'pass-to-pass': 0,
    'pass-to-fail': 0,
    'fail-to-pass': 0,
    'fail-to-fail': 0,
    'not-judgeable': 0,
  };
  /** Plans of the revisions that judged runs, with how many. */
  readonly plans = new Map<PastPlan, number>();
  firstRuns = 0;
  recordedFirstPasses = 0;
  trialFirstPasses = 0;
  readonly recorded = new ErrorSum();
  readonly trial = new ErrorSum();
  readonly #byCode = new Map<string, CharacteristicTally>();
  readonly #uncertaintyBy = new Map<Check, number | null>();

  constructor(
    private readonly plant: Plant,
    readonly uncertainties: ReadonlyMap<string, Uncertainty>,
  ) {}

  of(code: string): CharacteristicTally {
    const known = this.#byCode.get(code);
    if (known) return known;
    const tally = new CharacteristicTally();
    this.#byCode.set(code, tally);
    return tally;
  }

  add(judged: JudgedBlock): void {
    const { plan, rows, turns } = judged;
    this.plans.set(plan, (this.plans.get(plan) ?? 0) + rows.length);
    for (const row of rows) this.turns[turns[row] as Turn] += 1;
    this.#countFirstPasses(judged);
    this.#countCauses(judged);
    this.#addRisks(judged);
  }

  #countFirstPasses(judged: JudgedBlock): void {
    for (const row of judged.rows) {
      const outcome = judged.block.outcomes[row] as number;
      if ((outcome & Outcome.firstRun) === 0 || judged.turns[row] === 'not-judgeable') continue;
      this.firstRuns += 1;
      if ((outcome & Outcome.firstPass) !== 0) this.recordedFirstPasses += 1;
      if (isTrialFirstPass(this.plant, judged, row)) this.trialFirstPasses += 1;
    }
  }

  #countCauses({ plan, rows, turns, recordedValues, trialValues }: JudgedBlock): void {
    for (const row of rows) {
      if (turns[row] === 'pass-to-fail') {
        this.#count(plan.trial, trialValues, row, (tally) => tally.passToFail);
      } else if (turns[row] === 'fail-to-pass') {
        this.#count(plan.recorded, recordedValues, row, (tally) => tally.failToPass);
      } else if (turns[row] === 'not-judgeable') {
        for (const [i, check] of plan.trial.entries()) {
          if (isLacking(check, trialValues[i], row))
            this.of(check.characteristic.code).lacking += 1;
        }
      }
    }
  }

  #count(
    checks: readonly Check[],
    values: CheckValues,
    row: number,
    causeOf: (tally: CharacteristicTally) => Cause,
  ): void {
    for (const [i, { characteristic, acceptance }] of checks.entries()) {
      const side = sideOf(values[i], row, acceptance);
      if (side === 0) continue;
      const cause = causeOf(this.of(characteristic.code));
      cause.runs += 1;
      if (characteristic.kind === 'attribute') continue;
      if (side < 0) cause.below += 1;
      else cause.above += 1;
    }
  }

  #addRisks(judged: JudgedBlock): void {
    if (this.uncertainties.size === 0) return;
    const { turns, rows } = judged;
    const shared: Shared = new Map();
    const whole = {
      recorded: this.#sideRisks(judged, 'recorded', shared),
      trial: this.#sideRisks(judged, 'trial', shared),
    };
    for (const row of rows) {
      const turn = turns[row];
      if (turn === 'not-judgeable') continue;
      const wasPassed = turn === 'pass-to-pass' || turn === 'pass-to-fail';
      const passes = turn === 'pass-to-pass' || turn === 'fail-to-pass';
      this.recorded.add(wasPassed, whole.recorded.product[row] as number);
      this.trial.add(passes, whole.trial.product[row] as number);
    }
  }

  /** Adds each characteristic's risks by one side's limits, and gives the runs' as wholes. */
  #sideRisks(judged: JudgedBlock, side: 'recorded' | 'trial', shared: Shared): WholeConformance {
    const { block, plan, rows } = judged;
    const values = side === 'recorded' ? judged.recordedValues : judged.trialValues;
    const whole = new WholeConformance(block.runIds.length);
    for (const [i, check] of plan[side].entries()) {
      const own = values[i];
      if (!own || !isLimited(check)) continue;
      const uncertainty = this.#uncertaintyOf(check);
      const { conformance, sample } = sharedOf(shared, own, rows, check.tolerance, uncertainty);
      if (sample) {
        const tally = this.of(check.characteristic.code)[side];
        tally.add(check, own, rows, conformance, sample);
      }
      whole.multiply(conformance, rows);
    }
    return whole;
  }

  #uncertaintyOf(check: Check): number | null {
    const known = this.#uncertaintyBy.get(check);
    if (known !== undefined) return known;
    const uncertainty = uncertaintyIn(check, this.uncertainties.get(check.characteristic.code));
    this.#uncertaintyBy.set(check, uncertainty);
    return uncertainty;
  }
}

/** Whether a run cannot be judged for want of a value for this check. */
export function isLacking(
  { characteristic }: Check,
  values: Float64Array | null | undefined,
  row: number,
): boolean {
  return characteristic.required && Number.isNaN(values?.[row] ?? Number.NaN);
}

/** What was computed last for each column: where both sides judge it alike it is used twice. */
type Shared = Map<Float64Array, SharedPart>;

interface SharedPart {
  tolerance: Bounds;
  uncertainty: number | null;
  conformance: Float64Array;
  /** Null where there is no uncertainty. */
  sample: Pool | null;
}

function sharedOf(
  shared: Shared,
  values: Float64Array,
  rows: readonly number[],
  tolerance: Bounds,
  uncertainty: number | null,
): SharedPart {
  const known = shared.get(values);
  if (known && isAlike(known, tolerance, uncertainty)) return known;
  const part = {
    tolerance,
    uncertainty,
    conformance: conformanceOf(values, rows, tolerance, uncertainty),
    sample: uncertainty === null ? null : (known?.sample ?? Pool.of(values, rows)),
  };
  shared.set(values, part);
  return part;
}

function isAlike(known: SharedPart, { lower, upper }: Bounds, uncertainty: number | null): boolean {
  const { tolerance } = known;
  return (
    known.uncertainty === uncertainty && tolerance.lower === lower && tolerance.upper === upper
  );
}
