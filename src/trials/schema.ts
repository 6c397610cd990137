import { z } from 'zod';
import { code, day, idText, page, pageQuery, timeOf } from '../http/shapes.js';
import { judgementShape } from '../testing/schema.js';
import { turns } from './rules.js';

export const trialParams = z.strictObject({ specification: idText });

const window = {
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day on which runs ended, counted too.' }),
  runs: z.enum(['first', 'all']).optional().meta({
    description:
      '`first`: each motor’s first completed run only; `all`, where left out: repeated runs too.',
  }),
  cell: code.optional(),
  unmeasured: z.enum(['apart', 'ignored']).optional().meta({
    description:
      'Runs without a value that the specification requires: `apart`, where left out: counted apart, as they cannot be judged; `ignored`: judged by the values that they have.',
  }),
};

interface Days {
  fromDay?: string | undefined;
  untilDay?: string | undefined;
}

/** Days are text of one length, so that their order is that of their characters. */
function inOrder({ fromDay, untilDay }: Days): boolean {
  return fromDay === undefined || untilDay === undefined || fromDay <= untilDay;
}
const order = { path: ['untilDay'], message: 'is before fromDay' };

export const trialQuery = z.strictObject(window).refine(inOrder, order);

/** Which runs a table lists; `changed` are those of `pass-to-fail` and `fail-to-pass`. */
export const listings = [
  'changed',
  ...turns,
  'first-runs',
  'first-passes-recorded',
  'first-passes-trial',
  'all',
] as const;
export type Listing = (typeof listings)[number];

export const trialMotorsQuery = z
  .strictObject({
    ...window,
    which: z.enum(listings).optional().meta({
      description:
        'Which runs: `changed` where left out, those whose verdict would be another. `first-runs` and the first passes are those that the yields count.',
    }),
    code: code.optional().meta({
      description:
        'Only runs in which this characteristic fails by one of the two specifications and not by the other, or that lack its value where they cannot be judged.',
    }),
    ...pageQuery,
  })
  .refine(inOrder, order);

const link = z.string().meta({
  description: 'Address of this interface that lists the runs counted here, with their motors.',
});
const counted = { runs: z.int(), link };
const runsShape = z.strictObject(counted).meta({ id: 'TrialRuns' });

const causeShape = z
  .strictObject({
    ...counted,
    below: z.int().meta({
      description:
        'Of those, runs with a value below the lower acceptance limit; 0 for an attribute.',
    }),
    above: z.int().meta({ description: 'Above the upper acceptance limit; 0 for an attribute.' }),
  })
  .meta({ id: 'TrialCause' });

const number = z.number().nullable();
export const limits = z
  .strictObject({
    unit: z.string().nullable(),
    lower: number,
    upper: number,
    acceptLower: number.meta({ description: 'The limit narrowed by the guard band.' }),
    acceptUpper: number,
    expected: z.boolean().nullable().meta({ description: 'An attribute’s conforming answer.' }),
    required: z.boolean(),
  })
  .meta({ id: 'TrialLimits' });

const bases = ['as-judged', 'converted', 'computed-again', 'not-measured', 'not-asked'] as const;
const pastLimits = z
  .strictObject({
    specification: z.int(),
    revision: z.int(),
    limits: limits.nullable().meta({
      description: 'By which the revision judged it; null where it does not have it.',
    }),
    basis: z.enum(bases).meta({
      description:
        'Where the value on trial comes from: the value `as-judged`; `converted` from its unit; a derived one `computed-again` from the judged values of its inputs; `not-measured` by the revision; `not-asked` by the specification on trial.',
    }),
    reason: z.string().nullable().meta({ description: 'Why it is not measured.' }),
  })
  .meta({ id: 'TrialPastLimits' });

const riskShape = z
  .strictObject({
    expectedFalseAccepts: number.meta({
      description:
        'Expected number of values that conform though the true value lies outside the specification limits: the sum of the specific consumer’s risks (JCGM 106:2012, 9.3), each value by itself.',
    }),
    expectedFalseRejects: number.meta({
      description:
        'Expected number of values that do not conform though the true value lies within: the sum of the specific producer’s risks.',
    }),
    consumerRisk: number.meta({
      description:
        'Global consumer’s risk (JCGM 106:2012, 9.5): the share of all measured that is accepted but does not conform, for a normal population with the mean and spread of the values, less the uncertainty. By the newest revision’s limits where several judged the runs.',
    }),
    producerRisk: number.meta({
      description: 'Global producer’s risk: the share that is rejected but conforms.',
    }),
    reason: z.string().nullable().meta({ description: 'Why figures are null.' }),
  })
  .meta({ id: 'TrialRisk' });

const characteristicLine = z
  .strictObject({
    code: z.string(),
    name: z.string(),
    change: z.enum(['same', 'changed', 'added', 'dropped']).meta({
      description:
        'Whether it is judged otherwise than by one of the revisions that judged the runs: another limit, guard band, unit, derivation, expected answer, or required where it was not. `same` too where no run was looked at.',
    }),
    trial: limits.nullable().meta({ description: 'Null where it is dropped.' }),
    past: z
      .array(pastLimits)
      .meta({ description: 'One for each revision that judged runs looked at, newest first.' }),
    passToFail: causeShape.meta({
      description:
        'Runs that passed and would fail, in which it does not conform on trial. A run in which several do not is counted at each.',
    }),
    failToPass: causeShape.meta({
      description:
        'Runs that failed and would pass, in which it did not conform when it was judged.',
    }),
    risks: z
      .strictObject({
        standardUncertainty: number.meta({
          description:
            'That of the specification on trial, or where it states none, of the newest approved revision that does; taken for both sides, so that they differ by the limits alone.',
        }),
        unit: z.string().nullable(),
        statedBy: z.enum(['trial', 'past']).nullable(),
        recorded: riskShape,
        trial: riskShape,
      })
      .meta({ id: 'TrialRisks' }),
  })
  .meta({ id: 'TrialCharacteristic' });

const yieldShape = z
  .strictObject({
    firstPasses: z.int(),
    firstPassYield: number.meta({ description: 'firstPasses / firstRuns (ISO 22400-2).' }),
    lower: number.meta({ description: 'Lower end of the 95 % Wilson interval.' }),
    upper: number,
    link,
  })
  .meta({ id: 'TrialYield' });

const errorsShape = z
  .strictObject({ falseAccepts: z.number(), falseRejects: z.number() })
  .meta({ id: 'TrialErrors' });

export const trialAnswer = z
  .strictObject({
    specification: z.int(),
    model: z.string(),
    revision: z.int(),
    state: z.enum(['draft', 'approved']),
    revisions: z
      .array(
        z.strictObject({
          specification: z.int(),
          revision: z.int(),
          runs: z.int(),
          differences: z
            .string()
            .meta({ description: 'Address of what changed from that revision to this one.' }),
        }),
      )
      .meta({ description: 'Revisions that judged the runs looked at, newest first.' }),
    lookedAt: runsShape.meta({
      description: 'Completed runs of the model in the period; an aborted run has no verdict.',
    }),
    notJudgeable: z
      .strictObject({
        ...counted,
        characteristics: z.array(
          z.strictObject({ code: z.string(), ...counted }).meta({ id: 'TrialUnmeasured' }),
        ),
      })
      .meta({
        description:
          'Runs that lack a value which the specification requires, with the characteristics that they lack. They count in no verdict and no yield below.',
      }),
    verdicts: z
      .strictObject({
        passToPass: runsShape,
        passToFail: runsShape,
        failToPass: runsShape,
        failToFail: runsShape,
      })
      .meta({
        description: 'Judgeable runs by the verdict as recorded, then by this specification.',
      }),
    firstPass: z
      .strictObject({
        firstRuns: z.int(),
        link,
        recorded: yieldShape,
        trial: yieldShape,
      })
      .meta({
        description:
          'First-pass yield of the motors whose first completed run is among the judgeable runs: it passed, and the motor was not repaired before it.',
      }),
    expectedErrors: z
      .strictObject({
        recorded: errorsShape.nullable(),
        trial: errorsShape.nullable(),
        takenAsExact: z.array(z.string()).meta({
          description:
            'Characteristics whose values are taken as true, for want of an uncertainty: attributes are among them.',
        }),
        reason: z.string().nullable().meta({ description: 'Why the figures are null.' }),
      })
      .meta({
        description:
          'Expected numbers of judgeable runs with a wrong verdict: passed though a true value lies outside its specification limits, failed though all lie within. Errors of the values of a run are taken as independent.',
      }),
    characteristics: z.array(characteristicLine),
  })
  .meta({
    id: 'LimitTrial',
    description:
      'What a specification would have said of past runs. It changes nothing, and whoever approves the specification decides.',
  });

export const trialMotorLine = z
  .strictObject({
    motor: z.string(),
    run: z.int(),
    cell: z.string(),
    endedAt: timeOf,
    attempt: z.int(),
    revision: z.int().meta({ description: 'The revision that judged it.' }),
    recordedVerdict: z.enum(['pass', 'fail']),
    trialVerdict: z.enum(['pass', 'fail', 'not-judgeable']),
    recordedFirstPass: z
      .boolean()
      .nullable()
      .meta({ description: 'Null where it is not the motor’s first completed run.' }),
    trialFirstPass: z
      .boolean()
      .nullable()
      .meta({ description: 'Null too where the run cannot be judged.' }),
    decidedBy: z
      .array(
        z
          .strictObject({
            code: z.string(),
            recorded: judgementShape.nullable(),
            trial: judgementShape.nullable(),
          })
          .meta({ id: 'TrialDecision' }),
      )
      .meta({
        description:
          'Characteristics that fail by one of the two specifications and not by the other, with the value and limits of both; null where one of them does not have it.',
      }),
    missing: z
      .array(z.strictObject({ code: z.string(), reason: z.string() }))
      .meta({ description: 'Why it cannot be judged.' }),
    link: z.string().meta({ description: 'Address of the run.' }),
  })
  .meta({ id: 'TrialMotorLine' });
export const trialMotorPage = page(trialMotorLine);
