import { z } from 'zod';
import { code, day, page, pageQuery, timeOf } from '../http/shapes.js';

const filters = {
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day, counted too.' }),
  model: code.optional(),
  configuration: z
    .string()
    .max(50)
    .regex(
      /^[A-Za-z0-9](?:[A-Za-z0-9._/-]*[A-Za-z0-9])?(?: \d{1,9})?$/,
      'must be a configuration’s code, or code and revision with a blank between them',
    )
    .optional()
    .meta({
      description: 'A configuration’s code, of all its revisions, or `CODE REVISION` of one.',
      example: 'F100L-A 1',
    }),
  cell: code.optional().meta({ description: 'The cell of the run that is counted.' }),
  station: code.optional().meta({ description: 'The station at which the motor was set.' }),
  shift: code
    .optional()
    .meta({ description: 'A shift’s code; `none` for runs that ended outside any shift.' }),
};

export const firstPassQuery = z.strictObject({
  ...pageQuery,
  by: z
    .enum(['model', 'configuration', 'cell', 'station', 'shift', 'day', 'week', 'month', 'plant'])
    .optional()
    .meta({
      description:
        'What to count by; `model` where left out. `station` is the set station, `week` that of ISO 8601 such as 2026-W48, `plant` gives one line.',
    }),
  ...filters,
});

const lower = (of: string) =>
  z
    .number()
    .nullable()
    .meta({ description: `Lower end of the 95 % Wilson interval of ${of}.` });

export const firstPassLine = z
  .strictObject({
    slice: z.string(),
    firstRuns: z.int().meta({
      description:
        'Motors with a first completed run in the period (inspected parts IP, ISO 22400-2).',
    }),
    firstPasses: z.int().meta({
      description: 'Of those, motors that passed it unrepaired (good parts first time GP).',
    }),
    firstPassYield: z.number().nullable().meta({
      description: 'firstPasses / firstRuns (ISO 22400-2 first pass yield FPY = GP/IP).',
    }),
    lower: lower('firstPassYield'),
    upper: z.number().nullable(),
    finallyPassed: z.int().meta({
      description: 'Of firstRuns, motors whose latest completed run passed, whenever that was.',
    }),
    finalYield: z.number().nullable().meta({
      description:
        'finallyPassed / firstRuns: share of the motors that are good in the end (ISO 22400-2 quality ratio GQ/PQ, over the motors inspected).',
    }),
    finalLower: lower('finalYield'),
    finalUpper: z.number().nullable(),
    reworked: z.int().meta({
      description: 'Of finallyPassed, motors that were not first-pass (rework quantity RQ).',
    }),
    reworkRatio: z.number().nullable().meta({
      description:
        'reworked / firstRuns (ISO 22400-2 rework ratio RQ/PQ, over the motors inspected).',
    }),
    firstDefects: z
      .int()
      .meta({ description: 'Characteristics that did not conform in those first completed runs.' }),
    defectsPerUnit: z.number().nullable().meta({ description: 'firstDefects / firstRuns.' }),
    completedRuns: z.int().meta({
      description:
        'Completed runs of the period, repeated ones too, by the cell and shift of each.',
    }),
    passedRuns: z.int(),
    defects: z
      .int()
      .meta({ description: 'Characteristics that did not conform in all those runs.' }),
    abortedRuns: z
      .int()
      .meta({ description: 'Aborted runs are no attempts and count nowhere else.' }),
    link: z.string().meta({ description: 'Address of the motors behind firstRuns.' }),
    runsLink: z.string().meta({
      description: 'Address of the runs behind completedRuns, passedRuns, defects and abortedRuns.',
    }),
  })
  .meta({ id: 'FirstPassLine' });
export const firstPassPage = page(firstPassLine);

export const motorsQuery = z.strictObject({
  ...pageQuery,
  ...filters,
  outcome: z
    .enum(['first-pass', 'not-first-pass', 'finally-passed', 'not-finally-passed', 'reworked'])
    .optional()
    .meta({
      description: 'The motors behind firstPasses, finallyPassed or reworked, or the rest.',
    }),
});

export const motorLine = z
  .strictObject({
    serial: z.string(),
    model: z.string(),
    configuration: z.string(),
    configurationRevision: z.int(),
    station: z.string(),
    day: z.iso.date().meta({ description: 'The plant day that the motor counts on.' }),
    shift: z.string().meta({ description: 'The shift’s code; `none` outside any.' }),
    run: z.int().meta({ description: 'Its first completed run.' }),
    cell: z.string(),
    endedAt: timeOf,
    verdict: z.enum(['pass', 'fail']).meta({ description: 'Of that run.' }),
    firstPass: z.boolean(),
    finallyPassed: z.boolean().meta({ description: 'Whether its latest completed run passed.' }),
    attempts: z.int().meta({ description: 'Its completed runs until now.' }),
    state: z.string().meta({ description: 'The motor’s state now.' }),
  })
  .meta({ id: 'YieldMotor' });
export const motorsPage = page(motorLine);

export const runsQuery = z.strictObject({
  ...pageQuery,
  ...filters,
  outcome: z
    .enum(['completed', 'passed', 'failed', 'aborted'])
    .optional()
    .meta({ description: 'How the runs ended; `completed` is either verdict.' }),
});

export const runLine = z
  .strictObject({
    run: z.int(),
    serial: z.string().meta({ description: 'The motor’s serial.' }),
    model: z.string(),
    configuration: z.string(),
    configurationRevision: z.int(),
    station: z.string(),
    cell: z.string(),
    day: z.iso.date().meta({ description: 'The plant day that the run counts on.' }),
    shift: z.string().meta({ description: 'The shift’s code; `none` outside any.' }),
    endedAt: timeOf,
    attempt: z
      .int()
      .nullable()
      .meta({ description: 'Which completed run of its motor it is; null for an aborted one.' }),
    verdict: z.enum(['pass', 'fail']).nullable(),
    defects: z.int().meta({ description: 'Characteristics that did not conform.' }),
    abortReason: z.string().nullable(),
    link: z.string().meta({ description: 'Address of the run with its readings.' }),
  })
  .meta({ id: 'YieldRun' });
export const runsPage = page(runLine);

export const loopsQuery = z.strictObject({
  fromDay: day.optional(),
  untilDay: day.optional(),
});

export const loopsLine = z
  .strictObject({
    loops: z.int().meta({ description: 'Rework loops: completed runs beyond the first.' }),
    motors: z.int(),
    passed: z.int().meta({ description: 'Of those, motors whose latest completed run passed.' }),
  })
  .meta({ id: 'ReworkLoops' });
export const loopsPage = page(loopsLine);
