import { z } from 'zod';
import { historyShape } from '../genealogy/schema.js';
import { timeOf } from '../http/shapes.js';
import { repairDetail } from '../repair/schema.js';
import { returnShape } from './schema.js';

const neighbour = {
  motor: z.string(),
  model: z.string(),
  state: z.string().meta({ description: 'Where it is now.' }),
  returns: z.int().meta({ description: 'Field returns of it so far.' }),
};

const tested = z.strictObject({
  ...neighbour,
  run: z.int(),
  verdict: z.enum(['pass', 'fail']),
  endedAt: timeOf,
});

const margins = z.strictObject({
  run: z.int().meta({ description: 'The run that the motor was released on.' }),
  from: timeOf,
  until: timeOf,
  motors: z.int().meta({
    description:
      'Motors of the model whose latest completed run ended in that window, this one counted too.',
  }),
  definition: z.string().meta({ description: 'What a percentile here is.' }),
  items: z.array(
    z.strictObject({
      code: z.string(),
      name: z.string(),
      value: z.union([z.number(), z.boolean()]).nullable(),
      unit: z.string().nullable(),
      margin: z.number().meta({ description: 'See Judgement.' }),
      percentile: z
        .number()
        .meta({ description: '0 to 100; low means closer to a limit than most.' }),
      n: z.int().meta({ description: 'Motors of the window that have this margin.' }),
    }),
  ),
});

const neighbours = z.strictObject({
  cell: z
    .strictObject({
      cell: z.string(),
      before: z.array(tested).meta({ description: 'The nearest first.' }),
      after: z.array(tested),
    })
    .meta({ description: 'Other motors tested in the cell around the releasing run.' }),
  lots: z
    .array(
      z.strictObject({
        part: z.string(),
        partRevision: z.string(),
        lot: z.string(),
        motors: z.int().meta({ description: 'Other motors that have the lot in them now.' }),
        serials: z.array(z.string()).meta({ description: 'The first 20 of them.' }),
      }),
    )
    .meta({ description: 'Lots in the motor as it was released, 100 at most.' }),
  station: z
    .strictObject({
      station: z.string(),
      from: timeOf,
      until: timeOf,
      motors: z.int(),
      items: z.array(z.strictObject({ ...neighbour, setAt: timeOf })),
    })
    .meta({ description: 'Other motors set at its station in the same hour of the clock.' }),
});

const comparison = z.strictObject({
  factor: z.enum(['lot', 'cell', 'configuration', 'repair-cause', 'set-week']),
  value: z.string().meta({
    description:
      'A lot with its part and revision, a cell, a configuration with its revision, a repair cause, or an ISO week.',
  }),
  returnedWith: z.int().meta({ description: 'Returned motors that bear it.' }),
  with: z.int().meta({ description: 'Released motors that bear it, returned ones counted too.' }),
  returnedWithout: z.int(),
  without: z.int(),
  riskRatio: z.number().nullable().meta({
    description:
      'returnedWith / with over returnedWithout / without; null where nothing without it came back, so that it has no bound.',
  }),
  lower: z.number().nullable().meta({ description: 'Lower end of the 95 % score interval.' }),
  upper: z.number().nullable().meta({ description: 'Null where it has no bound.' }),
  p: z.number().meta({
    description: 'Fisher’s exact p, both directions; 0 where it is below 1e-300.',
  }),
  pAdjusted: z.number().meta({ description: 'Holm’s adjustment for the number of candidates.' }),
});

export const returnAnswers = z
  .strictObject({
    return: returnShape,
    releasedAt: timeOf,
    tree: historyShape.shape.tree.meta({
      description: 'As the motor was released. Parents before children.',
    }),
    sets: historyShape.shape.sets,
    runs: historyShape.shape.runs,
    repairs: z.array(repairDetail),
    margins,
    neighbours,
    alike: z.strictObject({
      motors: z.int().meta({ description: 'Motors of the model that came back so.' }),
      items: z.array(returnShape).meta({
        description: 'Other returns of the model with the symptom, the latest 100.',
      }),
    }),
    shared: z.strictObject({
      returned: z.int().meta({
        description: 'Motors of the model with a return of the symptom, this one counted too.',
      }),
      population: z.int().meta({ description: 'Released motors of the model.' }),
      candidates: z
        .int()
        .meta({ description: 'Values that at least two of the returned motors bear.' }),
      comparisons: z.int().meta({ description: 'Of those, the values compared below.' }),
      method: z.string(),
      items: z.array(comparison).meta({ description: 'The smallest p first.' }),
    }),
  })
  .meta({ id: 'ReturnAnswers' });
