import { z } from 'zod';
import { code, page, timeOf } from '../http/shapes.js';
import {
  characteristicHead,
  figureShape,
  readingsLinkShape,
  reasonShape,
  SUBGROUP_LIMIT,
  windowShape,
} from './schema.js';

const indexShape = z
  .strictObject({
    estimate: z.number(),
    lower: z.number().meta({ description: 'Lower end of the two-sided 95 % interval.' }),
    upper: z.number(),
  })
  .meta({
    id: 'CapabilityIndex',
    description:
      'Intervals hold for normal values: of Cp and Pp by chi-squared, of the others by Bissell’s approximation, good from some 30 values on.',
  });

const shareShape = z.strictObject({ below: figureShape, above: figureShape, total: figureShape });
const expectedShape = shareShape.nullable().meta({
  description:
    'Fraction of a normal process with this mean and spread beyond each limit, 0 to 1; null without that limit.',
});

/** A member for an index with its name in the trade and in the standard. */
const index = (description: string) => indexShape.nullable().meta({ description });
const percentileIndex = (description: string) => figureShape.meta({ description });

const withinShape = z
  .strictObject({
    cp: index('Process capability index Cp, (U - L) / 6σ; null with one limit only.'),
    cpl: index('Lower capability index, (mean - L) / 3σ; null without a lower limit.'),
    cpu: index('Upper capability index, (U - mean) / 3σ; null without an upper limit.'),
    cpk: index('Minimum capability index Cpk: the smaller one of cpl and cpu.'),
    expectedOutside: expectedShape,
    reason: reasonShape,
  })
  .meta({
    description:
      'By the spread within: what the process could do (names of ISO 22514-2, from memory).',
  });

const overallShape = z
  .strictObject({
    pp: index('Process performance index Pp, (U - L) / 6s; null with one limit only.'),
    ppl: index('Lower performance index, (mean - L) / 3s; null without a lower limit.'),
    ppu: index('Upper performance index, (U - mean) / 3s; null without an upper limit.'),
    ppk: index('Minimum performance index Ppk: the smaller one of ppl and ppu.'),
    expectedOutside: expectedShape,
    reason: reasonShape,
  })
  .meta({
    description:
      'By the spread of all values: what the process did (names of ISO 22514-2, from memory).',
  });

const percentileIndices = z
  .strictObject({
    pp: percentileIndex('(U - L) / (X99.865 % - X0.135 %); null with one limit only.'),
    ppl: percentileIndex('(X50 % - L) / (X50 % - X0.135 %); null without a lower limit.'),
    ppu: percentileIndex('(U - X50 %) / (X99.865 % - X50 %); null without an upper limit.'),
    ppk: percentileIndex('The smaller one of ppl and ppu.'),
    reason: reasonShape,
  })
  .meta({
    description:
      'The percentile method, which assumes no distribution (ISO 22514-2, from memory): the points are those of the values themselves. Without intervals.',
  });

const sideShape = z.strictObject({
  count: z.int(),
  fraction: z.number(),
  link: readingsLinkShape,
});

const observedShape = z
  .strictObject({
    below: sideShape.nullable().meta({ description: 'Null without a lower limit.' }),
    above: sideShape.nullable().meta({ description: 'Null without an upper limit.' }),
    total: sideShape,
  })
  .nullable()
  .meta({
    description: 'Values beyond the limits, one on a limit is within; null without values.',
  });

const againstMembers = {
  lower: figureShape,
  upper: figureShape,
  within: withinShape,
  overall: overallShape,
  percentile: percentileIndices,
  observedOutside: observedShape,
};

const spreadShape = z.strictObject({
  standardDeviation: figureShape,
  degreesOfFreedom: figureShape,
  estimator: z.string().meta({ description: 'How it is estimated, in words.' }),
});

const extremeShape = z.strictObject({
  run: z.int(),
  motor: z.string(),
  cell: z.string(),
  endedAt: timeOf,
  value: z.number(),
  link: z.string().meta({ description: 'Address of the run.' }),
});

const normalityShape = z
  .strictObject({
    statistic: figureShape.meta({ description: 'A².' }),
    modified: figureShape.meta({ description: 'A² (1 + 0.75/n + 2.25/n²).' }),
    pValue: figureShape.meta({
      description: 'How often a normal process gives values at least so far from normal.',
    }),
    normal: z
      .boolean()
      .nullable()
      .meta({ description: 'False where pValue is below 0.05. Null where it is not tested.' }),
    reason: reasonShape,
  })
  .meta({
    id: 'NormalityTest',
    description:
      'Anderson-Darling test with mean and standard deviation estimated from the values. Of very many values it finds even their rounding.',
  });

const methodShape = z.strictObject({
  read: z.enum(['normal', 'percentile', 'none']).meta({
    description:
      'Which indices to go by: `normal`, those of `within` and `overall`; `percentile`; or `none` of them.',
  }),
  why: z.string(),
});

const histogramClass = z.strictObject({
  from: z.number().meta({ description: 'Included.' }),
  until: z.number().meta({ description: 'Excluded, except in the last class.' }),
  count: z.int(),
  link: readingsLinkShape,
});

export const capabilityAnswer = z
  .strictObject({
    model: z.string(),
    characteristic: characteristicHead,
    window: windowShape,
    cell: z.string().nullable().meta({ description: 'Null: all test cells.' }),
    runs: z
      .enum(['first', 'all'])
      .meta({ description: '`first`: the first completed run of each motor; `all`: all runs.' }),
    subgroup: z.int().min(2).max(SUBGROUP_LIMIT).nullable(),
    count: z.int().meta({ description: 'Values, which is runs: each run has one value.' }),
    link: readingsLinkShape,
    reason: reasonShape,
    moments: z.strictObject({
      mean: figureShape,
      standardDeviation: figureShape.meta({ description: 'Of all values, divisor n - 1.' }),
      lowest: figureShape,
      highest: figureShape,
    }),
    spread: z.strictObject({ within: spreadShape, overall: spreadShape }),
    points: z
      .strictObject({
        lower: figureShape.meta({ description: 'X0.135 %.' }),
        median: figureShape.meta({ description: 'X50 %.' }),
        upper: figureShape.meta({ description: 'X99.865 %.' }),
        quantileType: z.literal(7).meta({ description: 'Hyndman and Fan’s definition.' }),
        reason: reasonShape,
      })
      .meta({ description: 'Of the values themselves.' }),
    normality: normalityShape,
    method: methodShape,
    specification: z.strictObject(againstMembers).meta({
      description: 'Against the specification limits.',
    }),
    acceptance: z.strictObject({ guardBand: z.number(), ...againstMembers }).meta({
      description:
        'Against the acceptance limits: the specification limits narrowed by the guard band (ISO 14253-1).',
    }),
    histogram: z.strictObject({ classes: z.array(histogramClass), reason: reasonShape }),
    lowest: z.array(extremeShape).meta({ description: 'The five lowest, lowest first.' }),
    highest: z.array(extremeShape).meta({ description: 'The five highest, highest first.' }),
    revisions: z
      .array(
        z.strictObject({
          specification: z.int(),
          revision: z.int(),
          effectiveFrom: timeOf.nullable(),
          unit: z.string(),
          lower: figureShape,
          upper: figureShape,
          guardBand: z.number(),
          count: z.int().meta({ description: 'Values of runs that it judged.' }),
          link: readingsLinkShape,
        }),
      )
      .meta({
        description:
          'Revisions by which values of the window were judged, and the newest one, each with the limits that it states in its own unit.',
      }),
    limitsChanged: z.boolean().meta({
      description:
        'True where values of the window were judged by other limits than those of the newest revision.',
    }),
    limitsNote: z.string(),
  })
  .meta({ id: 'Capability' });

export const overviewLine = z
  .strictObject({
    characteristic: code,
    name: z.string(),
    unit: z.string(),
    count: z.int(),
    mean: figureShape,
    standardDeviation: figureShape,
    lower: figureShape.meta({ description: 'Lower specification limit.' }),
    upper: figureShape.meta({ description: 'Upper specification limit.' }),
    cpk: figureShape.meta({
      description: 'Minimum capability index Cpk against the specification limits.',
    }),
    ppk: figureShape.meta({
      description: 'Minimum performance index Ppk against the specification limits.',
    }),
    ppkPercentile: figureShape.meta({ description: 'Ppk by the percentile method.' }),
    outsideSpecification: figureShape.meta({
      description: 'Observed fraction beyond the specification limits.',
    }),
    outsideAcceptance: figureShape.meta({
      description: 'Observed fraction beyond the acceptance limits.',
    }),
    normal: z.boolean().nullable(),
    method: z.enum(['normal', 'percentile', 'none']),
    why: z.string().meta({ description: 'Why that method is to be read, or none.' }),
    link: z.string().meta({ description: 'Address of all figures of the characteristic.' }),
  })
  .meta({ id: 'CapabilityLine' });
export const overviewPage = page(overviewLine);
