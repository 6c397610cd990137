import { z } from 'zod';
import { instant, page, pageQuery, timeOf } from '../http/shapes.js';
import { releaseShape } from '../release/schema.js';
import { repairDetail } from '../repair/schema.js';
import { judgementShape, runShape } from '../testing/schema.js';
import { holdShape, identity, unitShape, whichUnit } from '../units/schema.js';

export const historyQuery = z.strictObject({
  ...whichUnit,
  asOf: instant.optional().meta({
    description:
      'Everything as it was known then, but for the state of the unit itself; now where left out.',
  }),
});

const inspection = z.strictObject({
  kind: z.string(),
  result: z.enum(['accepted', 'rejected']),
  note: z.string().nullable(),
  at: timeOf,
});

const fastening = z.strictObject({
  joint: z.string(),
  tool: z.string(),
  torque: z.number(),
  torqueLower: z.number(),
  torqueUpper: z.number(),
  torqueUnit: z.string(),
  angle: z.number().nullable(),
  angleLower: z.number().nullable(),
  angleUpper: z.number().nullable(),
  angleUnit: z.string().nullable(),
  conforms: z.boolean(),
  at: timeOf,
});

const lot = z.strictObject({
  part: z.string(),
  partRevision: z.string(),
  lot: z.string(),
  at: timeOf,
});

const treeNode = z
  .strictObject({
    ...identity,
    position: z
      .string()
      .nullable()
      .meta({ description: 'Its position in its parent; null at the top.' }),
    parent: z.string().nullable().meta({ description: 'Serial of the unit that it is in.' }),
    since: timeOf.nullable(),
    depth: z.int(),
    asked: z.boolean().meta({ description: 'True for the unit that was asked about.' }),
    inspections: z.array(inspection),
    fastenings: z.array(fastening),
    lots: z.array(lot),
  })
  .meta({ id: 'TreeNode' });

const setOf = z.strictObject({
  motor: z.string(),
  order: z.string(),
  configuration: z.string(),
  configurationRevision: z.int(),
  station: z.string(),
  setBy: z.string(),
  at: timeOf,
  tornDownAt: timeOf.nullable(),
  teardownReason: z.string().nullable(),
});

export const eventShape = z
  .strictObject({
    seq: z.int(),
    at: timeOf.meta({ description: 'When it happened.' }),
    recordedAt: timeOf,
    kind: z.string(),
    text: z.string(),
    actor: z.string(),
    station: z.string().nullable(),
    units: z.array(z.string()).meta({ description: 'Serials it is about.' }),
  })
  .meta({ id: 'TimelineEvent' });

export const historyShape = z
  .strictObject({
    unit: unitShape,
    asOf: timeOf,
    motor: z
      .string()
      .nullable()
      .meta({ description: 'The motor that it is, or was in at that time.' }),
    tree: z.array(treeNode).meta({ description: 'Parents before children.' }),
    sets: z.array(setOf),
    runs: z.array(z.strictObject({ ...runShape.shape, judgements: z.array(judgementShape) })),
    repairs: z.array(repairDetail),
    holds: z.array(holdShape),
    release: releaseShape.nullable(),
    timeline: z.array(eventShape),
    timelineCut: z
      .boolean()
      .meta({ description: 'True where the timeline was longer than is shown.' }),
  })
  .meta({ id: 'History' });

export const eventPage = page(eventShape);
export const eventQuery = z.strictObject(pageQuery);
