import { z } from 'zod';
import { characteristicShape, promptShape } from '../catalogue/specification-schema.js';
import {
  code,
  idText,
  instant,
  page,
  pageQuery,
  reason,
  scanText,
  stationName,
  timeOf,
} from '../http/shapes.js';
import { iso, isoOrNull } from '../time.js';
import type { RunRow } from './records.js';

/** Readings of one run at most, all batches together. */
export const READINGS_LIMIT = 10_000;

export const runParams = z.strictObject({ run: idText });
const verdict = z.enum(['pass', 'fail']);

export const runDraft = z
  .strictObject({ motor: scanText, cell: stationName, occurredAt: instant.optional() })
  .meta({ id: 'RunDraft' });

export const reading = z
  .strictObject({
    code: code.meta({ description: 'Which characteristic.' }),
    value: z.union([z.number(), z.boolean()]),
    unit: z.string().min(1).max(40).nullable().optional().meta({
      description: 'UCUM code; the specification’s own unit where left out.',
    }),
  })
  .meta({ id: 'Reading' });

const readings = z.array(reading).min(1).max(READINGS_LIMIT);
const sequence = z.int().min(1).max(10_000);

export const batchDraft = z
  .strictObject({
    sequence: sequence.meta({
      description:
        'The cell’s own number of this batch; where one characteristic comes more than once, the highest batch counts.',
    }),
    measuredAt: instant.optional(),
    readings,
  })
  .meta({ id: 'ReadingBatch' });

export const batchAnswer = z
  .strictObject({
    run: z.int(),
    sequence: z.int(),
    readings: z.int().meta({ description: 'Readings the run holds now.' }),
    outstanding: z
      .array(z.string())
      .meta({ description: 'Required characteristics without a value yet.' }),
  })
  .meta({ id: 'BatchAnswer' });

export const completionDraft = z
  .strictObject({
    readings: readings.optional().meta({ description: 'The last, or all, of the run’s readings.' }),
    batches: z.int().min(0).max(10_000).optional().meta({
      description:
        'How many batches the cell has sent; the run is not completed while one is missing.',
    }),
    cellVerdict: verdict
      .optional()
      .meta({ description: 'The cell’s own opinion; kept beside the verdict.' }),
    occurredAt: instant.optional(),
  })
  .meta({ id: 'Completion' });

export const judgementShape = z
  .strictObject({
    code: z.string(),
    name: z.string(),
    value: z.union([z.number(), z.boolean()]).nullable(),
    unit: z.string().nullable(),
    conforms: z
      .boolean()
      .nullable()
      .meta({ description: 'Null where there are no limits or no value.' }),
    margin: z.number().nullable().meta({
      description:
        'Distance to the nearest acceptance limit over the half width: 1 in the middle, 0 on the limit, negative outside.',
    }),
    conformanceProbability: z.number().nullable().meta({
      description:
        'Probability that the true value is within the specification limits (JCGM 106:2012), where an uncertainty is known.',
    }),
    lower: z.number().nullable(),
    upper: z.number().nullable(),
    acceptLower: z.number().nullable(),
    acceptUpper: z.number().nullable(),
  })
  .meta({ id: 'Judgement' });

/** What a cell is told with every run that it posts; see src/reference/notices.ts. */
const cellNotices = z
  .array(
    z
      .strictObject({
        kind: z.enum(['reference-overdue', 'reference-shifted']),
        detail: z.string().meta({ description: 'In words, for whoever runs the cell.' }),
        referenceMotor: z.string().meta({ description: 'Serial of the reference motor.' }),
        dueAt: timeOf.meta({ description: 'When the cell has to run it at the latest.' }),
        referenceRun: z.int().nullable().meta({
          description: 'The cell’s latest reference run with it; null where there was none.',
        }),
        characteristics: z.array(z.string()).meta({
          description: 'Those that the run read off the motor’s accepted history.',
        }),
      })
      .meta({ id: 'CellNotice' }),
  )
  .meta({
    description:
      'What is amiss with the cell as of this answer: reference motors that it has not run in time, or that its latest reference run read off their history. Empty where all is well. No run is refused for it.',
  });

export const completionAnswer = z
  .strictObject({
    run: z.int(),
    motor: z.string(),
    attempt: z.int(),
    verdict,
    firstPass: z.boolean().nullable(),
    failed: z.array(judgementShape),
    cellVerdict: verdict.nullable(),
    disagreement: z.boolean(),
    repair: z.int().nullable().meta({ description: 'The repair that a failed run opened.' }),
    next: z.string().meta({ description: 'What happens to the motor now, in words.' }),
    cellNotices,
  })
  .meta({ id: 'CompletionAnswer' });

const runFields = {
  id: z.int(),
  motor: z.string(),
  model: z.string(),
  cell: z.string(),
  state: z.enum(['open', 'completed', 'aborted']),
  specification: z.int(),
  specificationRevision: z.int(),
  startedAt: timeOf,
  startedBy: z.string(),
  endedAt: timeOf.nullable(),
  attempt: z.int().nullable(),
  verdict: verdict.nullable(),
  firstPass: z.boolean().nullable(),
  cellVerdict: verdict.nullable(),
  disagreement: z.boolean(),
  abortReason: z.string().nullable(),
};
export const runShape = z.strictObject(runFields).meta({ id: 'Run' });
export const runPage = page(runShape);

export const openRunShape = z
  .strictObject({
    ...runFields,
    prompts: z.array(promptShape).meta({ description: 'What to ask and measure, in order.' }),
    batches: z.array(z.int()).meta({ description: 'Batches already recorded.' }),
    outstanding: z.array(z.string()),
    cellNotices,
  })
  .meta({ id: 'OpenRun' });

export const cellParams = z.strictObject({ cell: stationName });

const runSoFar = z
  .strictObject({
    ...runFields,
    readings: z.int().meta({ description: 'Readings the run holds.' }),
    lastBatch: z.int().meta({ description: 'Number of its last batch; 0 where it has none.' }),
    judgements: z.array(judgementShape).meta({
      description:
        'Every characteristic as the last readings would be judged now; the verdict comes with the completion.',
    }),
    outstanding: z
      .array(z.strictObject({ code: z.string(), reason: z.string() }))
      .meta({ description: 'What keeps the run from being completed, and why.' }),
  })
  .meta({ id: 'RunSoFar' });

const endedRun = z
  .strictObject({
    ...runFields,
    failed: z.array(judgementShape),
    repair: z.int().nullable().meta({ description: 'The repair that a failed run opened.' }),
  })
  .meta({ id: 'EndedRun' });

export const testCellShape = z
  .strictObject({
    cell: z.string(),
    run: runSoFar.nullable().meta({ description: 'The run that is open in the cell.' }),
    lastRun: endedRun.nullable().meta({ description: 'The run that ended last in the cell.' }),
    cellNotices,
  })
  .meta({ id: 'TestCell' });

export const postedReading = z.strictObject({
  batch: z.int(),
  measuredAt: timeOf,
  code: z.string(),
  value: z.union([z.number(), z.boolean()]),
  unit: z.string().nullable(),
});

export const runDetail = z
  .strictObject({
    ...runFields,
    judgements: z.array(judgementShape),
    readings: z.array(postedReading).meta({ description: 'As posted, every one.' }),
    characteristics: z.array(characteristicShape),
  })
  .meta({ id: 'RunDetail' });

export const abortDraft = z.strictObject({ reason, occurredAt: instant.optional() });
export const resumptionDraft = z.strictObject({ cell: stationName });

export const runQuery = z.strictObject({
  ...pageQuery,
  cell: code.optional(),
  state: z.enum(['open', 'completed', 'aborted']).optional(),
  verdict: verdict.optional(),
  from: instant.optional(),
  until: instant.optional(),
});

export function presentRun(row: RunRow): z.input<typeof runShape> {
  return {
    id: row.id,
    motor: row.motor,
    model: row.model,
    cell: row.cell,
    state: row.state,
    specification: row.specificationId,
    specificationRevision: row.specificationRevision,
    startedAt: iso(row.startedAtMs),
    startedBy: row.startedBy,
    endedAt: isoOrNull(row.endedAtMs),
    attempt: row.attempt,
    verdict: row.verdict,
    firstPass: row.firstPass === null ? null : row.firstPass === 1,
    cellVerdict: row.cellVerdict,
    disagreement: row.disagreement === 1,
    abortReason: row.abortReason,
  };
}
