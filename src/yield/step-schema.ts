import { z } from 'zod';
import { code, day, label, page, pageQuery, timeOf } from '../http/shapes.js';

const days = {
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day, counted too.' }),
};
const step = label(40).meta({
  description: '`set`, or the kind of an inspection such as `paint inspection`.',
});
const lower = z
  .number()
  .nullable()
  .meta({ description: 'Lower end of the 95 % Wilson interval; null without attempts.' });
const link = z
  .string()
  .nullable()
  .meta({ description: 'Address of what was counted; null where no station was named.' });

export const stepsQuery = z.strictObject({
  by: z.enum(['step', 'station', 'day']).optional().meta({
    description: 'What each step is split by; not at all where left out.',
  }),
  step: step.optional(),
  station: code.optional(),
  ...days,
});

export const stepLine = z
  .strictObject({
    step: z.string(),
    slice: z.string().nullable().meta({
      description: 'The station or the day; null by step, and where no station was named.',
    }),
    attempts: z.int().meta({
      description:
        'Inspected parts (ISO 22400-2): attempts at a set, refused ones too, or units with their first inspection.',
    }),
    passes: z.int().meta({
      description: 'Of those, good parts (ISO 22400-2): sets, or units accepted the first time.',
    }),
    firstPassYield: z
      .number()
      .nullable()
      .meta({ description: 'passes / attempts (ISO 22400-2 first pass yield, of this step).' }),
    lower,
    upper: z.number().nullable(),
    later: z.int().meta({
      description: 'Inspections of a unit after its first: they count in no yield.',
    }),
    laterPasses: z.int().meta({ description: 'Of those, accepted.' }),
    link,
  })
  .meta({ id: 'StepYieldLine' });
export const stepsPage = page(stepLine);

export const refusedQuery = z.strictObject({
  by: z
    .enum(['reason', 'station'])
    .optional()
    .meta({ description: '`reason` where left out: the slug of the problem that refused.' }),
  reason: code.optional(),
  station: code.optional(),
  ...days,
});

export const refusedLine = z
  .strictObject({
    category: z.string().meta({ description: 'Slug of the problem, or the station.' }),
    refusals: z.int(),
    share: z.number(),
    cumulativeShare: z
      .number()
      .meta({ description: 'Share of this line and those above; tied lines have the same.' }),
    rank: z.int(),
    link: z.string().meta({
      description: 'Address of the attempts; by station, of the reasons there, which have theirs.',
    }),
  })
  .meta({ id: 'RefusedSetsLine' });
export const refusedPage = page(refusedLine);

export const rolledQuery = z.strictObject(days);

export const rolledLine = z
  .strictObject({
    step: z.string(),
    attempts: z.int().meta({ description: 'Inspected parts (ISO 22400-2).' }),
    passes: z.int().meta({ description: 'Good parts the first time (ISO 22400-2).' }),
    stepYield: z
      .number()
      .meta({ description: 'passes / attempts (ISO 22400-2 first pass yield, of this step).' }),
    lower,
    upper: z.number().nullable(),
    defects: z.int().meta({
      description:
        'Of an inspection and a set the attempts that did not pass; of the test every characteristic that failed in a first completed run.',
    }),
    defectsPerUnit: z.number().meta({ description: 'defects / attempts.' }),
    rolledThroughputYield: z.number().meta({
      description:
        'Product of the yields down to this line; in the last line that of the whole way. A usual figure of the trade, not one of ISO 22400-2.',
    }),
    rolledDefectsPerUnit: z
      .number()
      .meta({ description: 'Sum of the defects per unit down to this line.' }),
    poissonYield: z.number().meta({
      description:
        'e to the power of -rolledDefectsPerUnit: the rolled yield if defects fell independently. Defects that come several on one unit leave more units free of them than it says.',
    }),
    link: z.string().meta({ description: 'Address of the step’s yield.' }),
  })
  .meta({ id: 'RolledYieldLine' });
export const rolledPage = page(rolledLine);

export const inspectedQuery = z.strictObject({
  ...pageQuery,
  step: step.optional(),
  result: z.enum(['accepted', 'rejected']).optional(),
  first: z
    .stringbool({ truthy: ['true'], falsy: ['false'] })
    .optional()
    .meta({ description: 'Only first inspections of a unit, or only later ones.' }),
  station: code.optional(),
  ...days,
});

export const inspectedLine = z
  .strictObject({
    class: z.string(),
    unit: z.string(),
    result: z.enum(['accepted', 'rejected']),
    first: z.boolean().meta({ description: 'Whether it was the first inspection of the unit.' }),
    station: z.string().nullable(),
    at: timeOf,
    link: z.string().meta({ description: 'Address of the unit’s history.' }),
  })
  .meta({ id: 'InspectedUnit' });
export const inspectedPage = page(inspectedLine);
