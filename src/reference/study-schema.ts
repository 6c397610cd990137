import { z } from 'zod';
import { code, day, idText, timeOf } from '../http/shapes.js';

/** Runs of each reference motor in each cell that a gauge study takes at most. */
export const TRIALS_LIMIT = 100;

/** Whole numbers or names with commas between them. */
function listText<T extends z.ZodType<unknown, string>>(one: T, what: string) {
  return z
    .string()
    .max(2000)
    .transform((text) => text.split(','))
    .pipe(z.array(one).min(1).max(200))
    .meta({ description: `${what}, with commas between them; all where left out.` });
}

export const gaugeStudyQuery = z.strictObject({
  model: code,
  characteristic: code.meta({ description: 'A measured or derived characteristic of the model.' }),
  referenceMotors: listText(idText, 'Ids of reference motors, retired ones too').optional(),
  cells: listText(code, 'Cells').optional(),
  fromDay: day.optional(),
  untilDay: day.optional().meta({ description: 'The last day, counted too.' }),
});

const component = z.strictObject({
  standardDeviation: z.number().meta({ description: 'In the unit of the characteristic.' }),
  percentOfTotalVariation: z.number().nullable().meta({
    description:
      'Of the total standard deviation; the sources do not add up to 100. Null without variation.',
  }),
  percentContribution: z.number().nullable().meta({
    description: 'Of the total variance; these add up to 100. Null without variation.',
  }),
  percentOfTolerance: z.number().nullable().meta({
    description: 'Six standard deviations over the tolerance; null where there is none.',
  }),
});

const components = {
  repeatability: component.meta({
    description: 'EV, equipment variation: one motor run again in one cell.',
  }),
  reproducibility: component.meta({ description: 'AV, appraiser variation: between the cells.' }),
  interaction: component.nullable().meta({
    description: 'Cells that differ by motor; null where it was pooled or cannot be told.',
  }),
  gauge: component.meta({ description: 'GRR: the measurement, those above together.' }),
  part: component.meta({ description: 'PV, part variation: between the motors.' }),
  total: component.meta({ description: 'TV, total variation.' }),
  distinctCategories: z.int().nullable().meta({
    description:
      'ndc, 1.41 PV / GRR, its decimals cut off and not rounded; null where the gauge has no variation.',
  }),
};

const varianceLine = {
  sumOfSquares: z.number(),
  degreesOfFreedom: z.int(),
  meanSquare: z.number(),
};
const testedLine = z.strictObject({
  ...varianceLine,
  f: z
    .number()
    .nullable()
    .meta({ description: 'Null where what it is tested against has no spread.' }),
  pValue: z.number().nullable(),
});

const crossed = z.strictObject({
  ...components,
  interactionPooled: z.boolean().meta({
    description: 'Whether the interaction was added to the repeatability, as its p value said.',
  }),
  table: z.strictObject({
    part: testedLine,
    appraiser: testedLine,
    interaction: testedLine,
    repeatability: z.strictObject(varianceLine),
    total: z.strictObject({ sumOfSquares: z.number(), degreesOfFreedom: z.int() }),
  }),
});

const byRange = z.strictObject({
  ...components,
  meanRanges: z.array(z.number()).meta({ description: 'Of each cell, over the motors.' }),
  appraiserMeans: z.array(z.number()).meta({ description: 'Of each cell.' }),
  appraiserDifference: z.number(),
  partRange: z.number(),
});

const cellComponent = z.strictObject({
  standardDeviation: z.number(),
  percentOfTolerance: z.number().nullable(),
});

const betweenCells = z.strictObject({
  repeatability: cellComponent,
  reproducibility: cellComponent,
  gauge: cellComponent,
  table: z.strictObject({
    between: z.strictObject(varianceLine),
    within: z.strictObject(varianceLine),
    f: z.number().nullable(),
    pValue: z.number().nullable(),
    rSquared: z.number().nullable(),
  }),
});

export const gaugeStudyAnswer = z
  .strictObject({
    model: z.string(),
    characteristic: z.string(),
    name: z.string(),
    unit: z.string(),
    tolerance: z.number().nullable().meta({
      description:
        'Upper less lower specification limit of the newest approved revision; null unless it has both.',
    }),
    motors: z
      .array(z.strictObject({ referenceMotor: z.int(), motor: z.string() }))
      .meta({ description: 'The parts.' }),
    cells: z.array(z.string()).meta({ description: 'The appraisers.' }),
    trials: z.int().meta({
      description: `Latest runs of each motor in each cell that were taken: as many as the pair with the fewest has, ${TRIALS_LIMIT} at most.`,
    }),
    leftOut: z.int().meta({ description: 'Older runs that were left out for that.' }),
    notPossible: z
      .string()
      .nullable()
      .meta({ description: 'Why there is no study, in words; null where there is one.' }),
    method: z.string(),
    byVariance: crossed.nullable().meta({
      description: 'By analysis of variance; null with fewer than two reference motors.',
    }),
    byRange: byRange.nullable().meta({
      description:
        'By averages and ranges, which cannot tell an interaction, for comparison with studies worked by hand; null past 25 motors, cells or trials.',
    }),
    betweenCells: betweenCells.nullable().meta({
      description:
        'With one reference motor only: by one-way analysis of variance between the cells. What motors differ by is then not known.',
    }),
    runs: z
      .array(
        z.strictObject({
          referenceRun: z.int(),
          referenceMotor: z.int(),
          cell: z.string(),
          at: timeOf,
          value: z.number(),
        }),
      )
      .meta({ description: 'The runs that it was computed from: by motor, cell and time.' }),
  })
  .meta({ id: 'GaugeStudy' });
