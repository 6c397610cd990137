import { z } from 'zod';
import { instant, timeOf } from '../http/shapes.js';
import { identity, whichUnit } from '../units/schema.js';
import { DEPTH_LIMIT } from './records.js';

const direction = z.enum(['inside', 'around']);

export const treeQuery = z.strictObject({
  ...whichUnit,
  asOf: instant
    .optional()
    .meta({ description: 'The instant at which the tree is wanted; now where left out.' }),
  direction: direction.optional().meta({
    description:
      '`inside`: everything in the unit; `around`: what it is in, outward. `inside` where left out.',
  }),
});

export const placedShape = z
  .strictObject({
    ...identity,
    depth: z.int().min(0).max(DEPTH_LIMIT).meta({
      description: 'Levels from the unit that was asked about, which has 0.',
    }),
    position: z
      .string()
      .nullable()
      .meta({ description: 'Its position in its parent; null where no parent is shown.' }),
    parentClass: z.string().nullable(),
    parent: z.string().nullable().meta({ description: 'Serial of the unit that it is in.' }),
    since: timeOf.nullable().meta({ description: 'When it came to be in its position.' }),
    until: timeOf.nullable().meta({
      description: 'When it left its position, also where that was after `asOf`; null: it did not.',
    }),
  })
  .meta({ id: 'PlacedUnit' });

export const treeShape = z
  .strictObject({
    asOf: timeOf,
    direction,
    units: z.array(placedShape).meta({
      description:
        'The unit itself, then by depth: what is in it, or what it is in up to the outermost.',
    }),
  })
  .meta({ id: 'Tree' });
