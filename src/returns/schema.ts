import { z } from 'zod';
import { code, day, idText, label, page, pageQuery, scanText, timeOf } from '../http/shapes.js';
import { iso } from '../time.js';
import type { ReturnRow } from './records.js';

/** Hours that a motor may have run when it comes back, at most. */
export const HOURS_LIMIT = 50_000;
/** Days before and after a run within which others are compared with it. */
export const WINDOW_DAYS_DEFAULT = 30;
export const WINDOW_DAYS_LIMIT = 180;
/** Motors tested before, and after, in the same cell. */
export const NEIGHBOURS_DEFAULT = 5;
export const NEIGHBOURS_LIMIT = 20;

export const returnParams = z.strictObject({ return: idText });

export const returnDraft = z
  .strictObject({
    unit: scanText,
    class: code
      .optional()
      .meta({ description: 'Needed only where units of several classes bear the serial.' }),
    returnedOn: day.meta({
      description: 'The day in the plant’s time zone on which the complaint came.',
    }),
    hoursRun: z
      .number()
      .min(0)
      .max(HOURS_LIMIT)
      .nullable()
      .optional()
      .meta({ description: 'Hours on its meter; null or left out where nobody read it.' }),
    symptom: code.meta({ description: 'A symptom code of the catalogue of repair codes.' }),
    finding: label(2000)
      .nullable()
      .optional()
      .meta({ description: 'What was found when it was looked at.' }),
  })
  .meta({ id: 'FieldReturnDraft' });

export const returnShape = z
  .strictObject({
    id: z.int(),
    class: z.string(),
    serial: z.string().meta({ description: 'The unit that was complained of.' }),
    motor: z.string().meta({ description: 'The motor that it is, or was in on that day.' }),
    model: z.string(),
    releasedOn: day,
    returnedOn: day,
    monthsInService: z
      .int()
      .meta({ description: 'Full calendar months from the release to the return.' }),
    hoursRun: z.number().nullable(),
    symptom: z.string(),
    finding: z.string().nullable(),
    recordedAt: timeOf,
    recordedBy: z.string(),
  })
  .meta({ id: 'FieldReturn' });
export const returnPage = page(returnShape);

export const returnQuery = z.strictObject({
  ...pageQuery,
  symptom: code.optional(),
  model: code.optional(),
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day of return, counted too.' }),
});

/** A whole number in a query, from 1 up to a limit. */
function countText(limit: number) {
  return z
    .string()
    .regex(/^\d{1,4}$/, 'must be a whole number')
    .transform(Number)
    .pipe(z.int().min(1).max(limit));
}

export const answersQuery = z.strictObject({
  windowDays: countText(WINDOW_DAYS_LIMIT)
    .optional()
    .meta({
      description: `Days before and after the run within which others are compared with it: 1 to ${WINDOW_DAYS_LIMIT}, ${WINDOW_DAYS_DEFAULT} unless said.`,
    }),
  neighbours: countText(NEIGHBOURS_LIMIT)
    .optional()
    .meta({
      description: `Motors tested before, and after, in the same cell: 1 to ${NEIGHBOURS_LIMIT}, ${NEIGHBOURS_DEFAULT} unless said.`,
    }),
});

export const triangleQuery = z.strictObject({ model: code });

export const triangleLine = z
  .strictObject({
    month: z.string().meta({
      description: 'Month of the release in the plant’s time zone.',
      example: '2026-03',
    }),
    monthsInService: z.int().meta({ description: 'Full calendar months since the release.' }),
    released: z.int().meta({ description: 'Motors released in the month.' }),
    returns: z.int().meta({
      description: 'Of those, motors whose first return came after so many full months.',
    }),
    rate: z.number().meta({ description: 'returns / released.' }),
    returnsSoFar: z
      .int()
      .meta({ description: 'Motors whose first return came by then: returns up to this line.' }),
    rateSoFar: z.number(),
    complete: z.boolean().meta({
      description:
        'False while motors of the month may still come back in this line; its rate may then grow.',
    }),
  })
  .meta({ id: 'ReturnTriangleLine' });
export const trianglePage = page(triangleLine);

const hoursPerMonth = z
  .string()
  .regex(/^\d{1,3}(\.\d{1,6})?$/, 'must be a number')
  .transform(Number)
  .pipe(z.number().positive().max(744));

export const survivalQuery = z
  .strictObject({
    model: code,
    by: z
      .enum(['months', 'hours'])
      .optional()
      .meta({ description: '`months` where left out: full calendar months since the release.' }),
    hoursPerMonth: hoursPerMonth.optional().meta({
      description:
        'Hours that a motor runs in a month; needed by hours, for motors whose hours nobody read.',
    }),
  })
  .refine((query) => (query.by === 'hours') === (query.hoursPerMonth !== undefined), {
    path: ['hoursPerMonth'],
    message: 'is needed by hours, and by hours only',
  });

export const survivalAnswer = z
  .strictObject({
    model: z.string(),
    by: z.enum(['months', 'hours']),
    hoursPerMonth: z.number().nullable(),
    motors: z.int().meta({ description: 'Released motors of the model.' }),
    returned: z.int().meta({ description: 'Of those, motors with a return: the events.' }),
    suspended: z
      .int()
      .meta({ description: 'Motors without one: they have survived as long as they are out.' }),
    hoursEstimated: z.int().nullable().meta({
      description: 'Returned motors whose hours nobody read, so that they too are estimated.',
    }),
    method: z.string(),
    steps: z.array(
      z.strictObject({
        time: z.number().meta({ description: 'Full months, or hours, since the release.' }),
        atRisk: z.int().meta({ description: 'Motors under observation just before.' }),
        events: z.int(),
        suspended: z.int().meta({ description: 'Motors suspended then, after the events.' }),
        survival: z.number().meta({ description: 'Estimated share that survives beyond, 0 to 1.' }),
        lower: z.number().nullable().meta({
          description:
            'Lower end of the 95 % interval; null while survival is 1 and once it is 0, where it is not defined.',
        }),
        upper: z.number().nullable(),
      }),
    ),
  })
  .meta({ id: 'ReturnSurvival' });

export function presentReturn(row: ReturnRow): z.input<typeof returnShape> {
  return {
    id: row.id,
    class: row.class,
    serial: row.serial,
    motor: row.motor,
    model: row.model,
    releasedOn: row.releasedOn,
    returnedOn: row.returnedOn,
    monthsInService: row.fullMonths,
    hoursRun: row.hoursRun,
    symptom: row.symptom,
    finding: row.finding,
    recordedAt: iso(row.recordedAtMs),
    recordedBy: row.recordedBy,
  };
}
