import { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
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
import type { Plant } from '../plant.js';
import { unpackJudged } from '../testing/packing.js';
import { READINGS_LIMIT, reading } from '../testing/schema.js';
import { iso, isoOrNull } from '../time.js';
import type { ReferenceCellRow, ReferenceMotorRow, ReferenceRunRow } from './records.js';
import { SHIFT_SIGNIFICANCE } from './rules.js';

/** Hours between two runs in one cell at most: a year. */
const INTERVAL_LIMIT = 8760;
/** Cells on one reference motor's schedule at most. */
const CELLS_LIMIT = 50;
/** First runs that later ones are compared with. */
export const BASELINE_RUNS_DEFAULT = 10;
const BASELINE_RUNS_MIN = 5;
const BASELINE_RUNS_LIMIT = 100;

export const referenceMotorParams = z.strictObject({ referenceMotor: idText });
export const referenceRunParams = z.strictObject({ referenceRun: idText });

const schedule = {
  intervalHours: z
    .int()
    .min(1)
    .max(INTERVAL_LIMIT)
    .meta({ description: 'Hours from one run to the next, in each cell.' }),
  cells: z
    .array(stationName)
    .min(1)
    .max(CELLS_LIMIT)
    .refine((cells) => new Set(cells).size === cells.length, 'names a cell twice')
    .meta({ description: 'Cells that have to run it.' }),
  reason,
};

export const referenceMotorDraft = z
  .strictObject({
    motor: scanText,
    ...schedule,
    baselineRuns: z
      .int()
      .min(BASELINE_RUNS_MIN)
      .max(BASELINE_RUNS_LIMIT)
      .optional()
      .meta({
        description: `How many of its first runs, over all cells, are its accepted history: ${BASELINE_RUNS_MIN} to ${BASELINE_RUNS_LIMIT}, ${BASELINE_RUNS_DEFAULT} unless said. Every run after them is compared with it.`,
      }),
  })
  .meta({ id: 'ReferenceMotorDraft' });

export const scheduleDraft = z.strictObject(schedule).meta({ id: 'ReferenceScheduleDraft' });
export const retirementDraft = z.strictObject({ reason });

export const referenceMotorShape = z
  .strictObject({
    id: z.int(),
    motor: z.string(),
    model: z.string(),
    state: z.string().meta({ description: 'Of the motor, see Unit.' }),
    intervalHours: z.int(),
    cells: z
      .array(z.string())
      .meta({ description: 'Cells that have to run it; none once it is retired.' }),
    baselineRuns: z.int(),
    reason: z.string(),
    hold: z.int().meta({ description: 'The hold that keeps it in the plant.' }),
    designatedAt: timeOf,
    designatedBy: z.string(),
    retiredAt: timeOf.nullable(),
    retiredBy: z.string().nullable(),
    retireReason: z.string().nullable(),
  })
  .meta({ id: 'ReferenceMotor' });
export const referenceMotorPage = page(referenceMotorShape);

const flag = z.stringbool({ truthy: ['true'], falsy: ['false'] });
export const referenceMotorQuery = z.strictObject({
  ...pageQuery,
  model: code.optional(),
  inUse: flag.optional().meta({ description: 'Only those in use, or only retired ones.' }),
});

export const referenceRunDraft = z
  .strictObject({
    motor: scanText,
    cell: stationName,
    readings: z.array(reading).min(1).max(READINGS_LIMIT).meta({
      description:
        'All that the model’s specification in force requires; of a characteristic that comes twice, the last counts.',
    }),
    occurredAt: instant.optional(),
  })
  .meta({ id: 'ReferenceRunDraft' });

export const shiftShape = z
  .strictObject({
    code: z.string(),
    unit: z.string(),
    value: z.number(),
    centre: z.number().meta({ description: 'Mean of the accepted history.' }),
    sigma: z.number().meta({ description: 'Its standard deviation.' }),
    limits: z.strictObject({ lower: z.number(), upper: z.number() }).meta({
      description: `Two-sided prediction interval of one further value, mean ± t s √(1 + 1/n) (ISO 16269-8), at ${SHIFT_SIGNIFICANCE} shared by all characteristics that were compared.`,
    }),
  })
  .meta({ id: 'ReferenceShift' });

const compared = z.int().meta({
  description:
    'Characteristics that were compared with the motor’s accepted history; 0 while it is gathered. One without variation there cannot be compared.',
});

const runFields = {
  id: z.int(),
  referenceMotor: z.int(),
  motor: z.string(),
  model: z.string(),
  cell: z.string(),
  at: timeOf,
  specification: z.int(),
  recordedBy: z.string(),
  compared,
  shifts: z
    .array(shiftShape)
    .meta({ description: 'Those that were off it; the cell is shifted while there are any.' }),
};
export const referenceRunShape = z.strictObject(runFields).meta({ id: 'ReferenceRun' });
export const referenceRunPage = page(referenceRunShape);

export const referenceRunDetail = z
  .strictObject({
    ...runFields,
    values: z
      .array(
        z.strictObject({
          code: z.string(),
          name: z.string(),
          value: z.union([z.number(), z.boolean()]).nullable(),
          unit: z.string().nullable(),
        }),
      )
      .meta({ description: 'In the specification’s order and units; derived ones computed.' }),
  })
  .meta({ id: 'ReferenceRunDetail' });

export const referenceRunQuery = z.strictObject({
  ...pageQuery,
  referenceMotor: idText.optional(),
  cell: code.optional(),
  from: instant.optional(),
  until: instant.optional(),
});

export const referenceCellShape = z
  .strictObject({
    cell: z.string(),
    referenceMotor: z.int(),
    motor: z.string(),
    model: z.string(),
    intervalHours: z.int(),
    lastRun: z.int().nullable().meta({ description: 'The cell’s latest reference run with it.' }),
    lastRunAt: timeOf.nullable(),
    dueAt: timeOf.meta({
      description:
        'The interval after the last run in this cell, or after the cell was put on the schedule where that was later.',
    }),
    overdue: z.boolean(),
    compared: compared.nullable(),
    shifted: z.boolean().meta({ description: 'Whether its last run was off the history.' }),
    shiftedOn: z.array(z.string()).meta({ description: 'By which characteristics.' }),
  })
  .meta({ id: 'ReferenceCell' });
export const referenceCellPage = page(referenceCellShape);
export const referenceCellQuery = z.strictObject({ ...pageQuery, cell: code.optional() });

export function presentReferenceMotor(row: ReferenceMotorRow): z.input<typeof referenceMotorShape> {
  return {
    id: row.id,
    motor: row.motor,
    model: row.model,
    state: row.state,
    intervalHours: row.intervalHours,
    cells: row.cells,
    baselineRuns: row.baselineRuns,
    reason: row.reason,
    hold: row.holdId,
    designatedAt: iso(row.designatedAtMs),
    designatedBy: row.designatedBy,
    retiredAt: isoOrNull(row.retiredAtMs),
    retiredBy: row.retiredBy,
    retireReason: row.retireReason,
  };
}

export function presentReferenceRun(row: ReferenceRunRow): z.input<typeof referenceRunShape> {
  return {
    id: row.id,
    referenceMotor: row.referenceMotorId,
    motor: row.motor,
    model: row.model,
    cell: row.cell,
    at: iso(row.atMs),
    specification: row.specificationId,
    recordedBy: row.recordedBy,
    compared: row.compared,
    shifts: row.shifts,
  };
}

/** A reference run with its values. */
export function presentReferenceRunDetail(
  plant: Plant,
  row: ReferenceRunRow,
): z.input<typeof referenceRunDetail> {
  const { characteristics } = existingSpecification(plant, row.specificationId);
  const values = unpackJudged(characteristics, row.judged);
  return {
    ...presentReferenceRun(row),
    values: characteristics.map((one, i) => ({
      code: one.code,
      name: one.name,
      value: values[i] ?? null,
      unit: one.kind === 'attribute' ? null : one.unit,
    })),
  };
}

export function presentReferenceCell(
  row: ReferenceCellRow,
  now: number,
): z.input<typeof referenceCellShape> {
  return {
    cell: row.cell,
    referenceMotor: row.referenceMotorId,
    motor: row.motor,
    model: row.model,
    intervalHours: row.intervalHours,
    lastRun: row.lastRunId,
    lastRunAt: isoOrNull(row.lastRunAtMs),
    dueAt: iso(row.dueAtMs),
    overdue: row.dueAtMs < now,
    compared: row.compared,
    shifted: row.shifts.length > 0,
    shiftedOn: row.shifts.map((one) => one.code),
  };
}
