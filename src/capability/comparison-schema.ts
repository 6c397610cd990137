import { z } from 'zod';
import { day, page } from '../http/shapes.js';
import {
  characteristicHead,
  figureShape,
  readingsLinkShape,
  reasonShape,
  windowShape,
} from './schema.js';

const ofMean = {
  mean: figureShape,
  standardDeviation: figureShape.meta({ description: 'Divisor n - 1.' }),
  lower: figureShape.meta({
    description: 'Lower end of the 95 % interval of the mean by Student’s t, of this mean alone.',
  }),
  upper: figureShape,
};

const cellLine = z
  .strictObject({
    cell: z.string(),
    count: z.int(),
    ...ofMean,
    lowest: z.number(),
    highest: z.number(),
    ppk: figureShape.meta({
      description: 'Minimum performance index Ppk against the specification limits.',
    }),
    ppkLower: figureShape.meta({
      description: 'Lower end of its 95 % interval by Bissell’s approximation.',
    }),
    ppkUpper: figureShape,
    reason: reasonShape,
    link: readingsLinkShape,
  })
  .meta({ id: 'ComparedCell' });

export const pairLine = z
  .strictObject({
    first: z.string(),
    second: z.string(),
    difference: figureShape.meta({ description: 'Mean of the first less mean of the second.' }),
    lower: figureShape.meta({
      description:
        'Lower end of Welch’s interval at 1 - 0.05/m, m being the number of pairs (Bonferroni): all intervals hold together at 95 %.',
    }),
    upper: figureShape,
    pValue: figureShape.meta({
      description: 'Two-sided, times the number of pairs (Bonferroni), at most 1.',
    }),
    differs: z
      .boolean()
      .nullable()
      .meta({ description: 'True where the interval does not hold 0.' }),
    reason: reasonShape,
  })
  .meta({ id: 'ComparedPair' });
export const pairPage = page(pairLine);

export const weekLine = z
  .strictObject({
    cell: z.string(),
    week: z
      .string()
      .meta({ description: 'ISO 8601 week of the plant’s time zone.', example: '2026-W10' }),
    fromDay: day,
    untilDay: day,
    count: z.int(),
    ...ofMean,
    reason: reasonShape,
    link: readingsLinkShape,
  })
  .meta({ id: 'CellWeek' });
export const weekPage = page(weekLine);

const varianceLine = z.strictObject({
  sumOfSquares: z.number(),
  degreesOfFreedom: z.int(),
  meanSquare: z.number(),
});

export const comparisonAnswer = z
  .strictObject({
    model: z.string(),
    characteristic: characteristicHead,
    window: windowShape,
    runs: z.enum(['first', 'all']),
    count: z.int(),
    link: readingsLinkShape,
    lower: figureShape.meta({ description: 'Lower specification limit.' }),
    upper: figureShape.meta({ description: 'Upper specification limit.' }),
    cells: z.array(cellLine),
    anova: z
      .strictObject({
        between: varianceLine.nullable(),
        within: varianceLine.nullable(),
        f: figureShape,
        pValue: figureShape.meta({
          description: 'How often cells of one mean are at least so different.',
        }),
        rSquared: figureShape.meta({ description: 'Share of the sum of squares between cells.' }),
        reason: reasonShape,
      })
      .meta({
        description:
          'One-way analysis of variance over cells with two values or more; it assumes one spread for all cells.',
      }),
    welch: z
      .strictObject({
        f: figureShape,
        degreesOfFreedomBetween: figureShape,
        degreesOfFreedomWithin: figureShape,
        pValue: figureShape,
        reason: reasonShape,
      })
      .meta({
        description: 'The same by Welch’s method, which holds however different the spreads are.',
      }),
    multiplicity: z.string().meta({ description: 'How the number of pairs is taken account of.' }),
    pairs: z.array(pairLine),
    weeks: z.array(weekLine).meta({
      description:
        'Cell by cell in the order of time, over the 53 weeks up to the last of these runs.',
    }),
  })
  .meta({ id: 'CellComparison' });
