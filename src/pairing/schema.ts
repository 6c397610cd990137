import { z } from 'zod';
import {
  attributes,
  code,
  instant,
  page,
  pageQuery,
  reason,
  scanText,
  stationName,
  timeOf,
} from '../http/shapes.js';
import { orderShape } from '../orders/schema.js';
import { iso } from '../time.js';
import type { SetAttempt } from './records.js';

const pair = {
  powerhead: scanText,
  lowerUnit: scanText,
  order: code
    .optional()
    .meta({ description: 'The most urgent open order that fits, where left out.' }),
};

export const setDraft = z
  .strictObject({ ...pair, station: stationName, occurredAt: instant.optional() })
  .meta({ id: 'SetDraft' });

export const checkQuery = z.strictObject(pair);

const willBe = {
  model: z.string(),
  powerhead: z.string(),
  lowerUnit: z.string(),
  order: z.string(),
  configuration: z.string(),
  configurationRevision: z.int(),
};

export const setShape = z
  .strictObject({
    motor: z.string().meta({ description: 'The serial issued: put this label on the motor.' }),
    ...willBe,
    orderSet: z.int().meta({ description: 'Motors now set for the order, this one counted.' }),
    orderQuantity: z.int(),
  })
  .meta({ id: 'Set' });

export const checkShape = z
  .strictObject({ wouldSet: z.literal(true), ...willBe })
  .meta({ id: 'PairCheck' });

export const scanQuery = z.strictObject({
  text: scanText,
  class: z
    .enum(['powerhead', 'lower-unit'])
    .optional()
    .meta({ description: 'Which half is meant, where both have the serial.' }),
});

/** A problem that would come, told beforehand. */
export const refusalShape = z.strictObject({
  type: z.string(),
  title: z.string(),
  status: z.int(),
  detail: z.string(),
});

export const recognisedShape = z
  .strictObject({
    is: z.enum(['powerhead', 'lower-unit', 'order']),
    name: z.string().meta({ description: 'Its serial, or the order’s number.' }),
    part: z.string().nullable(),
    partRevision: z.string().nullable(),
    attributes,
    order: orderShape.nullable(),
    refusal: refusalShape
      .nullable()
      .meta({ description: 'The problem that a set with it would be refused with now.' }),
  })
  .meta({ id: 'RecognisedScan' });

export const teardownDraft = z
  .strictObject({
    motor: scanText,
    reason,
    suspect: z
      .array(z.enum(['powerhead', 'lower-unit']))
      .max(2)
      .optional()
      .meta({
        description:
          'Halves to put on hold as they are freed; both where the motor itself is on hold.',
      }),
    station: code.optional(),
    occurredAt: instant.optional(),
  })
  .meta({ id: 'TeardownDraft' });

export const teardownShape = z
  .strictObject({
    motor: z.string(),
    powerhead: z.string(),
    lowerUnit: z.string(),
    order: z.string(),
    held: z.array(z.string()).meta({ description: 'Serials put on hold.' }),
  })
  .meta({ id: 'Teardown' });

export const attemptShape = z
  .strictObject({
    id: z.int(),
    at: timeOf,
    station: z.string(),
    by: z.string(),
    powerhead: z.string(),
    lowerUnit: z.string(),
    order: z.string().nullable(),
    outcome: z.string().meta({ description: '`set`, or the problem that refused it.' }),
    detail: z.string(),
    motor: z.string().nullable(),
  })
  .meta({ id: 'SetAttempt' });
export const attemptPage = page(attemptShape);

export const attemptQuery = z.strictObject({
  ...pageQuery,
  station: code.optional(),
  outcome: code.optional(),
  from: instant.optional(),
  until: instant.optional(),
});

export function presentAttempt(row: SetAttempt): z.input<typeof attemptShape> {
  return {
    id: row.id,
    at: iso(row.atMs),
    station: row.station,
    by: row.by,
    powerhead: row.powerheadScan,
    lowerUnit: row.lowerUnitScan,
    order: row.orderNumber,
    outcome: row.outcome,
    detail: row.detail,
    motor: row.motor,
  };
}
