import { z } from 'zod';
import { code, day, page } from '../http/shapes.js';

export const firstPassQuery = z.strictObject({
  by: z.enum(['model', 'cell', 'station', 'configuration', 'day']).optional().meta({
    description: 'What to count by; `model` where left out. `station` is the set station.',
  }),
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day, counted too.' }),
  model: code.optional(),
  cell: code.optional(),
  station: code.optional(),
});

export const firstPassLine = z
  .strictObject({
    slice: z.string(),
    firstRuns: z.int().meta({
      description:
        'Motors with a first completed run in the period (inspected parts, ISO 22400-2).',
    }),
    firstPasses: z
      .int()
      .meta({ description: 'Of those, motors that passed it unrepaired (good parts first time).' }),
    firstPassYield: z
      .number()
      .nullable()
      .meta({ description: 'firstPasses / firstRuns (ISO 22400-2 first pass yield).' }),
    lower: z.number().nullable().meta({ description: 'Lower end of the 95 % Wilson interval.' }),
    upper: z.number().nullable(),
    completedRuns: z.int(),
    passedRuns: z.int(),
    abortedRuns: z
      .int()
      .meta({ description: 'Aborted runs are no attempts and count nowhere else.' }),
  })
  .meta({ id: 'FirstPassLine' });
export const firstPassPage = page(firstPassLine);

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
