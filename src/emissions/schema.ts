import { z } from 'zod';
import {
  code,
  day,
  idText,
  label,
  page,
  pageQuery,
  reason,
  scanText,
  timeOf,
} from '../http/shapes.js';
import { exactly } from '../measurement/decimal.js';
import { iso } from '../time.js';
import { emissionsAidNotice } from './cumsum-lot-rule.js';
import type { DrawRow, FamilyRow, TestRow } from './records.js';
import { sourcesNotice, testPeriods } from './rules.js';
import { e4Modes } from './weighted-cycle.js';

/** What stands in every route's description. */
export const caution =
  'An aid: the regulation in force and the certifying authority decide. Running engines emit carbon monoxide and have hot and moving parts and fuel: test in a ventilated cell, behind guards, by trained staff under local rules.';

/** Engines of one draw at most. */
export const DRAW_LIMIT = 100;
/** Results of one sample-size question at most. */
export const RESULTS_LIMIT = 200;
/** Figures of one measurement are below this. */
const FIGURE_LIMIT = 1_000_000;
/** Days that a family's production may last: a model year and what overlaps it. */
const PRODUCTION_DAYS_LIMIT = 731;
/** Days that production may lie in, as the model years. */
const FIRST_DAY = '1989-01-01';
const LAST_DAY = '2200-12-31';
const DAY_MS = 24 * 60 * 60 * 1000;

export const emissionUnit = 'g/(kW.h)';

const aid = z.string().meta({ description: 'What this answer is, and who decides.' });
const sources = z.string().meta({
  description: 'Which parts of the regulation were read for these figures, and which were not.',
});
const historyLink = z.string().meta({ description: 'Address of everything known of the motor.' });
const decision = z.enum(['pass', 'fail', 'continue']);

export function linkOf(motor: string): string {
  return `/v1/history?serial=${encodeURIComponent(motor)}&class=motor`;
}

// Engine families --------------------------------------------------------------

const familyCode = z
  .string()
  .max(40)
  .regex(
    /^[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?$/,
    'must be letters, digits, and - . between them',
  )
  .meta({ description: 'Names the family, of one model year, over all its revisions.' });

const pollutantName = label(20).meta({
  description: 'As the family is certified: HC+NOx, CO …',
  example: 'HC+NOx',
});

const deterioration = z
  .discriminatedUnion('kind', [
    z.strictObject({ kind: z.literal('multiplicative'), factor: z.number().positive().max(100) }),
    z.strictObject({
      kind: z.literal('additive'),
      amount: z.number().min(-FIGURE_LIMIT).max(FIGURE_LIMIT),
    }),
  ])
  .meta({
    id: 'DeteriorationFactor',
    description:
      'A multiplicative factor below 1 counts as 1 (40 CFR 1051.240(c)(1)), an additive amount below 0 as 0 (from memory).',
  });

const pollutantTerms = z
  .strictObject({
    pollutant: pollutantName,
    basis: z.enum(['standard', 'fel']).meta({
      description: 'Whether the figure is the emission standard or a family emission limit.',
    }),
    standard: z.number().positive().max(FIGURE_LIMIT),
    unit: z
      .literal(emissionUnit)
      .meta({ description: 'UCUM; 40 CFR 1045.103 states its standards in it.' }),
    decimals: z.int().min(0).max(6).meta({
      description:
        'Decimals that the standard is stated with: 16.0 has one. Results are rounded to one more.',
    }),
    deterioration,
  })
  .refine(({ standard, decimals }) => exactly(standard).decimalPlaces() <= decimals, {
    path: ['decimals'],
    message: 'are fewer than the standard has',
  })
  .meta({ id: 'PollutantTerms' });

const familyTerms = {
  models: z
    .array(code)
    .min(1)
    .max(200)
    .meta({ description: 'Models whose motors are of the family.' }),
  productionFrom: day,
  productionUntil: day.meta({
    description: 'The last day of the model year’s production, counted too.',
  }),
  projectedVolume: z.int().min(1).max(10_000_000).meta({
    description: 'Engines projected for the model year, as certified.',
  }),
  pollutants: z.array(pollutantTerms).min(1).max(10),
};

interface Terms {
  models: readonly string[];
  productionFrom: string;
  productionUntil: string;
  pollutants: readonly { pollutant: string }[];
}

function checkTerms(terms: Terms, context: z.RefinementCtx): void {
  const fault = (path: string, message: string) =>
    context.addIssue({ code: 'custom', path: [path], message });
  for (const path of ['productionFrom', 'productionUntil'] as const) {
    if (terms[path] < FIRST_DAY || terms[path] > LAST_DAY) {
      fault(path, `must be from ${FIRST_DAY} to ${LAST_DAY}`);
    }
  }
  const days = (Date.parse(terms.productionUntil) - Date.parse(terms.productionFrom)) / DAY_MS;
  if (days < 0) fault('productionUntil', 'is before productionFrom');
  if (days >= PRODUCTION_DAYS_LIMIT) {
    fault('productionUntil', `must be within ${PRODUCTION_DAYS_LIMIT} days`);
  }
  if (new Set(terms.models).size < terms.models.length) fault('models', 'has a model twice');
  const pollutants = new Set(terms.pollutants.map((one) => one.pollutant));
  if (pollutants.size < terms.pollutants.length) fault('pollutants', 'has a pollutant twice');
}

export const familyDraft = z
  .strictObject({ code: familyCode, modelYear: z.int().min(1990).max(2200), ...familyTerms })
  .superRefine(checkTerms)
  .meta({ id: 'EngineFamilyDraft' });

export const revisionDraft = z
  .strictObject({ ...familyTerms, reason })
  .superRefine(checkTerms)
  .meta({ id: 'EngineFamilyRevisionDraft' });

const testPeriod = z
  .strictObject({
    period: z.int().meta({ description: 'From 1.' }),
    fromDay: day,
    untilDay: day.meta({ description: 'The last day, counted too.' }),
    engines: z.int().meta({ description: 'Engines to test in it at least (40 CFR 1051.310(b)).' }),
  })
  .meta({ id: 'TestPeriod' });

export const familyShape = z
  .strictObject({
    id: z.int().meta({ description: 'Of this revision.' }),
    code: z.string(),
    revision: z.int().meta({ description: 'From 1; the highest is in force.' }),
    modelYear: z.int(),
    models: z.array(z.string()),
    productionFrom: day,
    productionUntil: day,
    projectedVolume: z.int(),
    pollutants: z.array(pollutantTerms),
    periodRule: z.string().meta({
      description:
        'Why the test periods are what they are. Read in 40 CFR 1051.310(a), a sister part; that part 1045 has the same is from memory.',
    }),
    testPeriods: z.array(testPeriod),
    reason: z.string().nullable().meta({ description: 'Why it was revised; null in the first.' }),
    recordedAt: timeOf,
    recordedBy: z.string(),
    aid,
  })
  .meta({ id: 'EngineFamily' });
export const familyPage = page(familyShape);
export const familyListQuery = z.strictObject(pageQuery);
export const familyParams = z.strictObject({ family: familyCode });
export const revisionQuery = z.strictObject({
  revision: idText.optional().meta({ description: 'The one in force where left out.' }),
});

export function presentFamily(row: FamilyRow): z.input<typeof familyShape> {
  const { recordedAtMs, ...family } = row;
  const plan = testPeriods({
    fromDay: row.productionFrom,
    untilDay: row.productionUntil,
    projectedVolume: row.projectedVolume,
  });
  return {
    ...family,
    periodRule: plan.rule,
    testPeriods: plan.periods,
    recordedAt: iso(recordedAtMs),
    aid: emissionsAidNotice,
  };
}

// Draws --------------------------------------------------------------------------

const periodNumber = z.int().min(1).max(99);

export const drawDraft = z
  .strictObject({
    count: z.int().min(1).max(DRAW_LIMIT).meta({ description: 'Engines to draw.' }),
    period: periodNumber
      .optional()
      .meta({ description: 'Test period of the production; today’s where left out.' }),
    placedBy: z.enum(['set', 'pass']).optional().meta({
      description:
        'Which day places a motor in the period: that of its set, as where left out, or that of its first passed run.',
    }),
    withReleased: z.boolean().optional().meta({
      description:
        'False leaves out motors released to shipping, which may not be there to be tested; true where left out.',
    }),
  })
  .meta({ id: 'EngineDrawDraft' });

const drawnEngine = z.strictObject({ motor: z.string(), link: historyLink });

export const drawShape = z
  .strictObject({
    id: z.int(),
    family: z.string(),
    revision: z.int().meta({ description: 'Of the family, in force at the draw.' }),
    period: z.int(),
    fromDay: day,
    untilDay: day,
    placedBy: z.enum(['set', 'pass']),
    withReleased: z.boolean(),
    population: z.int().meta({
      description:
        'Motors it was drawn from: of the family, placed in the period, neither torn down nor scrapped, and not drawn before.',
    }),
    leftOut: z.int().meta({ description: 'Motors left out because they had been drawn before.' }),
    populationDigest: z.string().meta({
      description:
        'SHA-256, in hex, of the population’s serials in ascending order of their bytes, each followed by a line feed.',
    }),
    seed: z.string().meta({
      description:
        '32 bytes, in hex, from the operating system’s secure generator, made at the draw.',
    }),
    drawn: z.array(drawnEngine).meta({ description: 'In the order of the draw.' }),
    drawnAt: timeOf,
    drawnBy: z.string(),
    aid,
  })
  .meta({ id: 'EngineDraw' });
export const drawPage = page(drawShape);

export const drawDetail = drawShape
  .extend({
    method: z.string(),
    digestRepeats: z.boolean().meta({
      description: 'Whether the recorded population has the recorded digest.',
    }),
    drawRepeats: z.boolean().meta({
      description: 'Whether the draw, made again now from population and seed, draws the same.',
    }),
    populationLink: z.string(),
  })
  .meta({ id: 'EngineDrawDetail' });
export const drawParams = z.strictObject({ family: familyCode, draw: idText });

export const populationLine = z
  .strictObject({
    motor: z.string(),
    ticket: z.string().meta({
      description:
        'SHA-256, in hex, of the seed, a line feed and the serial; the lowest are drawn.',
    }),
    drawn: z.boolean(),
    link: historyLink,
    aid,
  })
  .meta({ id: 'EngineDrawTicket' });
export const populationPage = page(populationLine);

export const drawMethod =
  'Each serial of the population has the ticket SHA-256(seed, a line feed, serial); the lowest tickets are drawn, in ascending order. Any SHA-256 tool repeats it.';

export function presentDraw(row: DrawRow): z.input<typeof drawShape> {
  return {
    id: row.id,
    family: row.family,
    revision: row.revision,
    period: row.period,
    fromDay: row.fromDay,
    untilDay: row.untilDay,
    placedBy: row.placedBy,
    withReleased: row.withReleased,
    population: row.population,
    leftOut: row.leftOut,
    populationDigest: row.populationDigest,
    seed: row.seed,
    drawn: row.drawn.map((motor) => ({ motor, link: linkOf(motor) })),
    drawnAt: iso(row.drawnAtMs),
    drawnBy: row.drawnBy,
    aid: emissionsAidNotice,
  };
}

// Tests --------------------------------------------------------------------------

const modeMeasurement = z.strictObject({
  mode: z.int().min(1).max(e4Modes.length),
  gramsPerHour: z.number().min(0).max(FIGURE_LIMIT).meta({ description: 'Mass rate, g/h.' }),
  kilowatts: z.number().min(0).max(FIGURE_LIMIT).meta({ description: 'Power, kW; 0 at idle.' }),
});

const modes = z
  .array(modeMeasurement)
  .max(e4Modes.length)
  .refine(
    (all) => new Set(all.map((one) => one.mode)).size === e4Modes.length,
    'must have each of the five modes once',
  )
  .refine((all) => all.some((one) => one.kilowatts > 0), 'must have power in some mode')
  .meta({
    id: 'E4Modes',
    description:
      'Duty cycle E4, discrete modes (40 CFR part 1045 appendix II): 1 full load at maximum test speed, 2 at 80 %, 3 at 60 %, 4 at 40 %, 5 idle. For a sum of pollutants give the sum of their mass rates.',
  });

const measurement = z.union([
  z.strictObject({
    pollutant: pollutantName,
    value: z.number().min(0).max(FIGURE_LIMIT).meta({
      description: 'Weighted result, g/(kW.h), undeteriorated and not rounded.',
    }),
  }),
  z.strictObject({ pollutant: pollutantName, modes }),
]);

export const testDraft = z
  .strictObject({
    motor: scanText,
    testedOn: day,
    hoursRun: z.number().min(0).max(10_000).nullable().optional().meta({
      description: 'Hours that the engine had run before the test (40 CFR 1045.345(a)(4)).',
    }),
    afterCorrection: z.boolean().optional().meta({
      description:
        'True for an engine tested again after it was corrected (40 CFR 1045.320(a)(1)): kept and shown, but the original result counts (40 CFR 1054.320(c), a sister part).',
    }),
    results: z.array(measurement).min(1).max(10).meta({
      description:
        'Every pollutant of the family once: its result, or the modes to weight it from.',
    }),
    note: label(2000).nullable().optional(),
  })
  .meta({ id: 'EmissionTestDraft' });

const measured = z.strictObject({
  pollutant: z.string(),
  value: z.number().meta({ description: 'g/(kW.h), undeteriorated and not rounded.' }),
  modes: z.array(modeMeasurement).nullable(),
});

export const testShape = z
  .strictObject({
    id: z.int(),
    family: z.string(),
    motor: z.string(),
    link: historyLink,
    draw: z.int().meta({ description: 'The draw that the engine is from.' }),
    testedOn: day,
    hoursRun: z.number().nullable(),
    afterCorrection: z.boolean(),
    counted: z.boolean().meta({
      description: 'False for a test after correction and for an invalidated one.',
    }),
    invalidated: z.strictObject({ reason: z.string(), at: timeOf, by: z.string() }).nullable(),
    results: z.array(measured),
    note: z.string().nullable(),
    recordedAt: timeOf,
    recordedBy: z.string(),
    aid,
  })
  .meta({ id: 'EmissionTest' });
export const testPage = page(testShape);

export const testDetail = testShape
  .extend({
    engine: z
      .array(
        z.strictObject({
          pollutant: z.string(),
          tests: z.array(z.int()).meta({ description: 'Counted tests of the engine, averaged.' }),
          deteriorated: z.number().meta({
            description:
              'Final deteriorated result: the mean rounded, the deterioration factor applied, rounded again to one decimal more than the standard (40 CFR 1051.315(a), a sister part).',
          }),
          standard: z.number(),
          unit: z.string(),
          exceeds: z.boolean().meta({
            description:
              'Above the standard: the certificate is suspended for that engine until it is corrected and tested again (40 CFR 1045.320(a)).',
          }),
        }),
      )
      .meta({ description: 'The engine by all its counted tests so far, by the family in force.' }),
  })
  .meta({ id: 'EmissionTestDetail' });
export const testParams = z.strictObject({ family: familyCode, result: idText });
export const testListQuery = z.strictObject({ ...pageQuery });

export const invalidationDraft = z
  .strictObject({ reason })
  .meta({ id: 'EmissionTestInvalidation' });

export function presentTest(row: TestRow): z.input<typeof testShape> {
  return {
    id: row.id,
    family: row.family,
    motor: row.motor,
    link: linkOf(row.motor),
    draw: row.drawId,
    testedOn: row.testedOn,
    hoursRun: row.hoursRun,
    afterCorrection: row.afterCorrection,
    counted: !row.afterCorrection && row.invalidated === null,
    invalidated: row.invalidated && {
      reason: row.invalidated.reason,
      at: iso(row.invalidated.atMs),
      by: row.invalidated.by,
    },
    results: row.measurements.map((one) => ({ ...one })),
    note: row.note,
    recordedAt: iso(row.recordedAtMs),
    recordedBy: row.recordedBy,
    aid: emissionsAidNotice,
  };
}

// Standing -----------------------------------------------------------------------

export const standingQuery = z.strictObject({
  period: idText.optional().meta({
    description:
      'Engines drawn for production up to the end of this test period count; the last one begun where left out. The tests of a model year are taken together (40 CFR 1051.310(b)(2), a sister part).',
  }),
  revision: idText.optional().meta({
    description: 'Judged by this revision of the family; the one in force where left out.',
  }),
});

const figures = {
  mean: z.number().meta({ description: 'Of the results so far.' }),
  sigma: z.number().nullable().meta({
    description: 'Sample standard deviation of the results so far; null with one.',
  }),
  t95: z.number().nullable().meta({
    description: 'One-tail 95 % coefficient for so many tests, as 40 CFR 1048.310(c)(1) prints it.',
  }),
  requiredFormula: z.number().nullable().meta({
    description:
      'N = (t95 · sigma / (mean - standard))² + 1; null with one test, and where the mean is the standard.',
  }),
  requiredTests: z.int().nullable().meta({ description: 'N up to a whole number.' }),
  cumSum: z.number().meta({
    description:
      'C = max(0, C before + result - (standard + 0.25 · sigma)), 0 at the first test (40 CFR 1045.315(b)). An earlier C keeps the sigma of its own time.',
  }),
  actionLimit: z.number().nullable().meta({
    description: 'H = 5 · sigma, after each test anew (40 CFR 1045.315(f)).',
  }),
  overLimit: z.boolean().meta({ description: 'C above H.' }),
  decision: decision.meta({ description: 'As it stood after this test.' }),
};

const engineStep = {
  test: z.int().meta({ description: 'The engine’s place in the order of testing, from 1.' }),
  motor: z.string(),
  link: historyLink,
  period: z.int(),
  testedOn: day.meta({ description: 'Day of its first counted test.' }),
  measured: z.array(z.number()).meta({ description: 'Its tests, undeteriorated, not rounded.' }),
  result: z.number().meta({ description: 'Final deteriorated result.' }),
  exceeds: z.boolean().meta({ description: 'Result above the standard.' }),
  ...figures,
};

export const cumSumLine = z
  .strictObject({
    pollutant: z.string(),
    standard: z.number(),
    unit: z.string(),
    ...engineStep,
    aid,
  })
  .meta({ id: 'CumSumLine' });
export const cumSumPage = page(cumSumLine);

export const standingAnswer = z
  .strictObject({
    family: z.string(),
    revision: z.int(),
    modelYear: z.int(),
    period: z.int(),
    decision: decision.meta({
      description:
        'fail with one pollutant, pass with all of them and with the engines that each test period wants, else continue.',
    }),
    rule: z.string().meta({ description: 'What decided it, in a sentence.' }),
    engines: z.int().meta({ description: 'Engines with counted tests.' }),
    requiredTests: z.int().nullable().meta({
      description: 'The largest sample size over the pollutants; null while any has none.',
    }),
    testPeriods: z.array(testPeriod.extend({ tested: z.int() })).meta({
      description: 'Up to the period asked for, with the engines tested of each.',
    }),
    awaiting: z
      .array(z.strictObject({ motor: z.string(), link: historyLink, draw: z.int() }))
      .meta({
        description: 'Drawn engines without a counted test.',
      }),
    exceeding: z
      .array(
        z.strictObject({ motor: z.string(), link: historyLink, pollutants: z.array(z.string()) }),
      )
      .meta({
        description:
          'Engines with a result above a standard: the certificate is suspended for each until it is corrected and tested again (40 CFR 1045.320(a)).',
      }),
    ends: z
      .strictObject({
        engines: z.int(),
        ofEngines: z.int().meta({ description: 'Thirty.' }),
        conforming: z.int().meta({ description: 'Engines with no result above a standard.' }),
        ofConforming: z.int().meta({ description: 'One percent of the projected volume.' }),
        reached: z.boolean(),
      })
      .meta({
        description:
          'Ends that testing has whatever its figures are, once each test period has the engines that it wants. From memory: look them up before relying on them.',
      }),
    pollutants: z.array(
      z.strictObject({
        pollutant: z.string(),
        basis: z.enum(['standard', 'fel']),
        standard: z.number(),
        unit: z.string(),
        decimals: z.int(),
        deterioration,
        decision,
        rule: z.string(),
        tests: z.int(),
        mean: figures.mean.nullable(),
        sigma: figures.sigma,
        t95: figures.t95,
        requiredFormula: figures.requiredFormula,
        requiredTests: figures.requiredTests,
        cumSum: z.array(z.strictObject(engineStep)),
      }),
    ),
    table: z.string().meta({ description: 'Address of the CumSum as a table, also as CSV.' }),
    sources,
    aid,
  })
  .meta({ id: 'EngineFamilyStanding' });

// Questions without a family -----------------------------------------------------

export const weightingQuestion = z.strictObject({ modes }).meta({ id: 'WeightingQuestion' });

export const weightedMode = z
  .strictObject({
    mode: z.int(),
    speedPercent: z
      .number()
      .nullable()
      .meta({ description: 'Percent of maximum test speed; null at idle.' }),
    torquePercent: z.number(),
    weight: z.number().meta({ description: 'Weighting factor.' }),
    gramsPerHour: z.number(),
    kilowatts: z.number(),
    weightedGramsPerHour: z.number(),
    weightedKilowatts: z.number(),
  })
  .meta({ id: 'WeightedMode' });

export const weightedAnswer = z
  .strictObject({
    cycle: z.string(),
    gramsPerHour: z.number().meta({ description: 'Sum of the weighted mass rates.' }),
    kilowatts: z.number().meta({ description: 'Sum of the weighted powers.' }),
    gramsPerKilowattHour: z.number().meta({
      description: 'Their ratio, g/(kW.h), not rounded (40 CFR 1065.650, from memory).',
    }),
    items: z.array(weightedMode),
    aid,
  })
  .meta({ id: 'WeightedResult' });

export const sampleSizeQuestion = z
  .strictObject({
    standard: z.number().positive().max(FIGURE_LIMIT).meta({
      description: 'Emission standard or family emission limit.',
    }),
    results: z.array(z.number().min(0).max(FIGURE_LIMIT)).min(1).max(RESULTS_LIMIT).meta({
      description: 'Final deteriorated results of one pollutant, in the order of testing.',
    }),
  })
  .meta({ id: 'SampleSizeQuestion' });

export const sampleSizeLine = z
  .strictObject({ test: z.int(), result: z.number(), ...figures })
  .meta({ id: 'SampleSizeLine' });

export const sampleSizeAnswer = z
  .strictObject({
    decision,
    rule: z.string(),
    requiredTests: figures.requiredTests,
    items: z.array(sampleSizeLine),
    sources,
    aid,
  })
  .meta({ id: 'SampleSize' });

export const aidAndSources = { sources: sourcesNotice, aid: emissionsAidNotice };
