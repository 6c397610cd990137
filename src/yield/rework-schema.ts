import { z } from 'zod';
import { code, day, page, pageQuery, timeOf } from '../http/shapes.js';
import { ageClasses } from './rework-rules.js';

const days = {
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day, counted too.' }),
};
const scope = {
  model: code.optional(),
  cell: code.optional().meta({ description: 'The cell of the failed run.' }),
  ...days,
};
const outcome = z.enum(['repaired', 'no-fault-found', 'scrapped', 'concession', 'torn-down']);

const share = z.number().nullable();
const interval = {
  lower: z.number().nullable().meta({ description: 'Lower end of the 95 % Wilson interval.' }),
  upper: z.number().nullable(),
};
const without = {
  unfinished: z.int().meta({
    description:
      'Loops whose next completed run has not come yet (suspended observations). They stand in no other figure of the line.',
  }),
  ended: z.int().meta({
    description:
      'Loops that no run followed: the motor was accepted by concession, scrapped or torn down.',
  }),
};
const link = z.string().meta({ description: 'Address of the motors behind it.' });

export const loopsPerMotorQuery = z.strictObject({
  model: code.optional(),
  cell: code.optional().meta({ description: 'The cell of the motor’s first completed run.' }),
  ...days,
});

export const loopsPerMotorLine = z
  .strictObject({
    loops: z.int().meta({ description: 'Rework loops: completed runs beyond the first.' }),
    motors: z.int(),
    share: z.number().meta({ description: 'Of all motors in the answer.' }),
    cumulativeShare: z.number().meta({ description: 'Share of motors with so many or fewer.' }),
    meanLoops: z
      .number()
      .meta({ description: 'Mean loops of all motors in the answer, the same in each line.' }),
    link,
  })
  .meta({ id: 'LoopsPerMotorLine' });
export const loopsPerMotorPage = page(loopsPerMotorLine);

export const timesQuery = z.strictObject({
  by: z.enum(['model', 'cell', 'characteristic']).optional().meta({
    description: 'What to split by; `model` where left out. `characteristic` is what failed.',
  }),
  ...scope,
});

export const timesLine = z
  .strictObject({
    slice: z.string(),
    loops: z.int().meta({ description: 'Finished loops: those that the hours are of.' }),
    medianHours: z.number().nullable().meta({
      description:
        'Hours from the end of the failed run to the end of the next completed one. Quantiles by definition 7 of Hyndman and Fan (1996). Null without a finished loop.',
    }),
    p90Hours: z.number().nullable(),
    maxHours: z.number().nullable(),
    ...without,
    link,
  })
  .meta({ id: 'ReworkTimesLine' });
export const timesPage = page(timesLine);

const ageClass = z.enum(ageClasses.map((one) => one.code)).meta({
  description: 'Age class; common practice, no source. An age on a bound is in the class above it.',
});

export const waitingQuery = z.strictObject({
  ...pageQuery,
  model: code.optional(),
  cell: code.optional().meta({ description: 'The cell of the failed run.' }),
  ageClass: ageClass.optional(),
});
export const agesQuery = waitingQuery.omit({ limit: true, after: true, ageClass: true });

export const waitingLine = z
  .strictObject({
    motor: z.string(),
    model: z.string(),
    state: z.enum(['in-repair', 'awaiting-test']),
    since: timeOf.meta({
      description:
        'End of the failed run, whatever was found while the motor waited; where none failed, when it was found nonconforming or sent to another test.',
    }),
    ageHours: z.number().meta({ description: 'Hours from then to now.' }),
    ageClass,
    run: z.int().nullable().meta({ description: 'The failed run; null where none failed.' }),
    cell: z.string().nullable().meta({ description: 'The cell of the failed run.' }),
    failed: z.array(z.string()).meta({ description: 'Characteristics that failed in it.' }),
    repair: z.int().nullable().meta({ description: 'The motor’s latest repair.' }),
    complaint: z.string().nullable().meta({ description: 'What that repair was opened for.' }),
    link: z.string().meta({ description: 'Address of the motor’s history.' }),
  })
  .meta({ id: 'WaitingMotor' });
export const waitingPage = page(waitingLine);

export const agesLine = z
  .strictObject({
    ageClass,
    fromHours: z.number(),
    untilHours: z.number().nullable().meta({ description: 'Not counted; null without an end.' }),
    motors: z.int(),
    inRepair: z.int(),
    forRetest: z.int(),
    share,
    link,
  })
  .meta({ id: 'WaitingAgesLine' });
export const agesPage = page(agesLine);

export const paretoQuery = z.strictObject({
  of: z.enum(['characteristic', 'cause', 'action', 'symptom']).meta({
    description:
      '`characteristic`: what failed, once for each failed run; the others: what closed repairs state.',
  }),
  ...scope,
});

export const paretoLine = z
  .strictObject({
    category: z.string(),
    count: z.int().meta({
      description:
        'Failed runs in which the characteristic failed, or repairs closed with the code. Repairs that are open or ended otherwise state none.',
    }),
    share: z.number().meta({ description: 'Of the counts of all lines.' }),
    cumulativeShare: z
      .number()
      .meta({ description: 'Share of this line and those above; tied lines have the same.' }),
    rank: z.int(),
    link,
  })
  .meta({ id: 'ReworkParetoLine' });
export const paretoPage = page(paretoLine);

export const curesQuery = z.strictObject({
  of: z
    .enum(['characteristic', 'cause'])
    .optional()
    .meta({ description: '`characteristic` where left out: what failed.' }),
  ...scope,
});

export const cureLine = z
  .strictObject({
    category: z.string().meta({ description: 'The characteristic that failed, or the cause.' }),
    action: z.string(),
    loops: z.int().meta({ description: 'Failed runs whose repair was closed with the action.' }),
    nextRuns: z.int().meta({ description: 'Of those, with a next completed run.' }),
    passed: z.int().meta({ description: 'Of those, that passed it.' }),
    share: share.meta({ description: 'passed / nextRuns; null without a next run.' }),
    ...interval,
    failedAgain: z.int().meta({
      description:
        'Next runs in which the same characteristic failed again; by cause, any that had failed.',
    }),
    ...without,
    link,
  })
  .meta({ id: 'CureLine' });
export const curesPage = page(cureLine);

export const refailsQuery = z.strictObject(scope);

export const refailLine = z
  .strictObject({
    characteristic: z.string(),
    failedRuns: z.int().meta({ description: 'Failed runs in which it failed.' }),
    nextRuns: z.int().meta({ description: 'Of those, with a next completed run.' }),
    failedAgain: z.int().meta({ description: 'Of those, in which it failed again.' }),
    share: share.meta({ description: 'failedAgain / nextRuns; null without a next run.' }),
    ...interval,
    ...without,
    link: z.string().meta({ description: 'Address of the motors on which it failed again.' }),
  })
  .meta({ id: 'RefailLine' });
export const refailsPage = page(refailLine);

export const noFaultQuery = z.strictObject(scope);

export const noFaultLine = z
  .strictObject({
    cell: z.string(),
    failedRuns: z.int(),
    closed: z.int().meta({ description: 'Of those, whose repair has ended, however it did.' }),
    noFaultFound: z.int().meta({ description: 'Of those, as no fault found.' }),
    share: share.meta({
      description: 'noFaultFound / closed; null while all are open. An open repair may yet be one.',
    }),
    ...interval,
    link: z.string().meta({ description: 'Address of the motors in which no fault was found.' }),
  })
  .meta({ id: 'NoFaultFoundLine' });
export const noFaultPage = page(noFaultLine);

const ofCases = {
  characteristic: code.optional().meta({ description: 'It failed in the run.' }),
  symptom: code.optional(),
  cause: code.optional(),
  action: code.optional(),
  outcome: outcome.optional().meta({ description: 'How the repair ended.' }),
  afterFailedRun: z
    .stringbool({ truthy: ['true'], falsy: ['false'] })
    .optional()
    .meta({ description: 'Whether a failed run opened the repair, or a nonconformance else.' }),
  nextRun: z.enum(['passed', 'failed', 'failed-again', 'unfinished', 'ended']).optional().meta({
    description:
      'What the next completed run was. `failed-again`: the characteristic named, or any that had failed, failed again; `unfinished`: it has not come yet; `ended`: it will not.',
  }),
};

export const motorsQuery = z
  .strictObject({
    ...pageQuery,
    loops: z
      .string()
      .regex(/^\d{1,4}$/, 'must be a whole number')
      .transform(Number)
      .optional()
      .meta({
        description:
          'Motors with exactly so many completed runs beyond the first, whose first is in the window and cell.',
      }),
    ...ofCases,
    ...scope,
  })
  .refine(
    (query) =>
      query.loops === undefined ||
      Object.keys(ofCases).every((name) => query[name as keyof typeof ofCases] === undefined),
    { path: ['loops'], message: 'goes with model, cell and days only' },
  );

export const motorLine = z
  .strictObject({
    motor: z.string(),
    model: z.string(),
    state: z.string(),
    loops: z.int().meta({ description: 'Completed runs beyond the first.' }),
    runs: z.array(z.int()).meta({
      description: 'The failed runs that were asked for; by loops, all completed runs.',
    }),
    repairs: z.array(z.int()).meta({ description: 'Likewise, the repairs.' }),
    link: z.string().meta({ description: 'Address of the motor’s history.' }),
  })
  .meta({ id: 'ReworkedMotor' });
export const motorsPage = page(motorLine);
