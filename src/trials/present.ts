import type { z } from 'zod';
import { areCommensurable } from '../measurement/units.js';
import { wilsonInterval } from '../statistics/wilson-interval.js';
import { acceptanceLimits, type Characteristic } from '../testing/rules.js';
import { intervalRatio } from './bounds.js';
import { motorsLink, type PastPlan, type Trial } from './replay.js';
import { type RiskTally, type Uncertainty, uncertaintyIn } from './risks.js';
import { isLimited, type Turn } from './rules.js';
import type { limits, trialAnswer } from './schema.js';
import type { Cause, TrialTally } from './tally.js';

type Answer = z.input<typeof trialAnswer>;
type Line = Answer['characteristics'][number];
type Risk = Line['risks']['recorded'];

/** The answer of a trial from what was counted. */
export function presentTrial(trial: Trial, tally: TrialTally): Answer {
  const { id, model, revision, state } = trial.specification;
  const plans = [...tally.plans.keys()].sort(
    (a, b) => b.specification.revision - a.specification.revision,
  );
  return {
    specification: id,
    model,
    revision,
    state,
    revisions: plans.map((plan) => ({
      specification: plan.specification.id,
      revision: plan.specification.revision,
      runs: tally.plans.get(plan) ?? 0,
      differences: `/v1/specifications/${id}/differences?from=${plan.specification.id}`,
    })),
    ...presentVerdicts(trial, tally),
    firstPass: presentFirstPass(trial, tally),
    expectedErrors: presentErrors(tally, plans),
    characteristics: codesOf(trial, plans).map((code) => presentLine(trial, tally, plans, code)),
  };
}

/** Those on trial in their order, then those that are dropped. */
function codesOf({ specification }: Trial, plans: readonly PastPlan[]): string[] {
  const all = [specification, ...plans.map((plan) => plan.specification)];
  return [...new Set(all.flatMap((one) => one.characteristics.map(({ code }) => code)))];
}

function presentVerdicts(
  trial: Trial,
  tally: TrialTally,
): Pick<Answer, 'lookedAt' | 'notJudgeable' | 'verdicts'> {
  const { turns } = tally;
  const runs = (which: Turn) => ({ runs: turns[which], link: motorsLink(trial, { which }) });
  const all = Object.values(turns).reduce((sum, one) => sum + one, 0);
  return {
    lookedAt: { runs: all, link: motorsLink(trial, { which: 'all' }) },
    notJudgeable: { ...runs('not-judgeable'), characteristics: presentLacking(trial, tally) },
    verdicts: {
      passToPass: runs('pass-to-pass'),
      passToFail: runs('pass-to-fail'),
      failToPass: runs('fail-to-pass'),
      failToFail: runs('fail-to-fail'),
    },
  };
}

function presentLacking(trial: Trial, tally: TrialTally) {
  return trial.characteristics.flatMap(({ code }) => {
    const runs = tally.of(code).lacking;
    const link = motorsLink(trial, { which: 'not-judgeable', code });
    return runs === 0 ? [] : [{ code, runs, link }];
  });
}

function presentFirstPass(trial: Trial, tally: TrialTally): Answer['firstPass'] {
  const { firstRuns, recordedFirstPasses, trialFirstPasses } = tally;
  const yieldOf = (firstPasses: number, which: string) => ({
    firstPasses,
    firstPassYield: firstRuns === 0 ? null : firstPasses / firstRuns,
    ...(firstRuns === 0 ? { lower: null, upper: null } : wilsonInterval(firstPasses, firstRuns)),
    link: motorsLink(trial, { which }),
  });
  return {
    firstRuns,
    link: motorsLink(trial, { which: 'first-runs' }),
    recorded: yieldOf(recordedFirstPasses, 'first-passes-recorded'),
    trial: yieldOf(trialFirstPasses, 'first-passes-trial'),
  };
}

function presentErrors(tally: TrialTally, plans: readonly PastPlan[]): Answer['expectedErrors'] {
  const checks = plans
    .flatMap((plan) => [...plan.trial, ...plan.recorded])
    .filter((check) => isLimited(check) && check.source.basis !== 'not-measured');
  const isExact = (check: (typeof checks)[number]) =>
    uncertaintyIn(check, tally.uncertainties.get(check.characteristic.code)) === null;
  const exact = checks.filter(isExact).map(({ characteristic }) => characteristic.code);
  const takenAsExact = [...new Set(exact)];
  if (checks.length === exact.length) {
    const reason =
      plans.length === 0
        ? 'No run was looked at.'
        : 'No characteristic that was measured and has limits states an uncertainty.';
    return { recorded: null, trial: null, takenAsExact, reason };
  }
  const { recorded, trial } = tally;
  return { recorded: { ...recorded }, trial: { ...trial }, takenAsExact, reason: null };
}

function presentLine(
  trial: Trial,
  tally: TrialTally,
  plans: readonly PastPlan[],
  code: string,
): Line {
  const onTrial = withCode(trial.specification.characteristics, code);
  const before = plans.map((plan) => withCode(plan.specification.characteristics, code));
  const newest = before.find((one) => one !== undefined);
  const counted = tally.of(code);
  return {
    code,
    name: onTrial?.name ?? newest?.name ?? code,
    change: changeOf(onTrial, before),
    trial: onTrial ? presentLimits(onTrial) : null,
    past: plans.map((plan) => presentPast(plan, code)),
    passToFail: presentCause(trial, counted.passToFail, { which: 'pass-to-fail', code }),
    failToPass: presentCause(trial, counted.failToPass, { which: 'fail-to-pass', code }),
    risks: {
      ...presentUncertainty(tally.uncertainties.get(code), onTrial ?? newest),
      recorded: presentRisk(counted.recorded, newest, tally.uncertainties.get(code)),
      trial: presentRisk(counted.trial, onTrial, tally.uncertainties.get(code)),
    },
  };
}

function withCode(
  characteristics: readonly Characteristic[],
  code: string,
): Characteristic | undefined {
  return characteristics.find((one) => one.code === code);
}

function changeOf(
  onTrial: Characteristic | undefined,
  before: readonly (Characteristic | undefined)[],
): Line['change'] {
  if (!onTrial) return 'dropped';
  if (before.length > 0 && before.every((one) => one === undefined)) return 'added';
  const terms = judgedBy(onTrial);
  return before.every((one) => one !== undefined && judgedBy(one) === terms) ? 'same' : 'changed';
}

/** Everything of a characteristic that a verdict depends on. */
function judgedBy(one: Characteristic): string {
  const { kind, required } = one;
  if (one.kind === 'attribute') return JSON.stringify([kind, required, one.expected]);
  const derivation = one.kind === 'derived' ? one.derivation : null;
  const { unit, lower, upper, guardBand } = one;
  return JSON.stringify([kind, required, unit, lower, upper, guardBand, derivation]);
}

function presentLimits(one: Characteristic): z.input<typeof limits> {
  const { required } = one;
  if (one.kind === 'attribute') {
    const none = { unit: null, lower: null, upper: null, acceptLower: null, acceptUpper: null };
    return { ...none, expected: one.expected, required };
  }
  const { lower: acceptLower, upper: acceptUpper } = acceptanceLimits(one);
  const { unit, lower, upper } = one;
  return { unit, lower, upper, acceptLower, acceptUpper, expected: null, required };
}

function presentPast({ specification, trial }: PastPlan, code: string): Line['past'][number] {
  const past = withCode(specification.characteristics, code);
  const source = trial.find((check) => check.characteristic.code === code)?.source;
  return {
    specification: specification.id,
    revision: specification.revision,
    limits: past ? presentLimits(past) : null,
    basis: source?.basis ?? 'not-asked',
    reason: source?.basis === 'not-measured' ? source.reason : null,
  };
}

function presentCause(trial: Trial, cause: Cause, more: Record<string, string>) {
  return { ...cause, link: motorsLink(trial, more) };
}

function presentUncertainty(
  uncertainty: Uncertainty | undefined,
  shown: Characteristic | undefined,
): Pick<Line['risks'], 'standardUncertainty' | 'unit' | 'statedBy'> {
  const unit = shown && shown.kind !== 'attribute' ? shown.unit : null;
  if (!uncertainty || unit === null || !areCommensurable(uncertainty.unit, unit)) {
    return { standardUncertainty: null, unit, statedBy: null };
  }
  const standardUncertainty = uncertainty.value * intervalRatio(uncertainty.unit, unit);
  return { standardUncertainty, unit, statedBy: uncertainty.statedBy };
}

/** @param one the characteristic with the limits that the risks are of; undefined if there is none */
function presentRisk(
  tally: RiskTally,
  one: Characteristic | undefined,
  uncertainty: Uncertainty | undefined,
): Risk {
  if (!one) return noRisk('It is not judged by this side.');
  if (one.kind === 'attribute') return noRisk('An attribute has no uncertainty.');
  if (one.lower === null && one.upper === null) return noRisk('It has no limits.');
  const { standardUncertainty } = presentUncertainty(uncertainty, one);
  if (standardUncertainty === null) return noRisk('No revision states its uncertainty.');
  if (tally.values === 0) return noRisk('No run looked at measured it.');
  const { falseAccepts, falseRejects } = tally.errors;
  const expected = { expectedFalseAccepts: falseAccepts, expectedFalseRejects: falseRejects };
  const risks = tally.ofPopulation(one, standardUncertainty);
  if (typeof risks === 'string') {
    return { ...expected, consumerRisk: null, producerRisk: null, reason: risks };
  }
  const { consumer, producer } = risks;
  return { ...expected, consumerRisk: consumer, producerRisk: producer, reason: null };
}

function noRisk(reason: string): Risk {
  return {
    expectedFalseAccepts: null,
    expectedFalseRejects: null,
    consumerRisk: null,
    producerRisk: null,
    reason,
  };
}
