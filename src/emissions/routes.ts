import type { z } from 'zod';
import { pageById } from '../http/cursor.js';
import { command, inquiry, question, type Route, table } from '../http/route.js';
import { plantDay } from '../time.js';
import { motorScanProblems } from '../units/resolve.js';
import {
  drawFromFamily,
  existingFamily,
  existingTest,
  invalidateTest,
  recordFamily,
  recordTest,
  reviseFamily,
} from './actions.js';
import {
  drawPopulation,
  repeatedDraw,
  type StandingAsked,
  testWithEngine,
  weightedResultOf,
} from './questions.js';
import {
  aidAndSources,
  caution,
  cumSumLine,
  cumSumPage,
  drawDetail,
  drawDraft,
  drawMethod,
  drawPage,
  drawParams,
  drawShape,
  familyDraft,
  familyListQuery,
  familyPage,
  familyParams,
  familyShape,
  invalidationDraft,
  populationLine,
  populationPage,
  presentDraw,
  presentFamily,
  presentTest,
  revisionDraft,
  revisionQuery,
  sampleSizeAnswer,
  sampleSizeLine,
  sampleSizeQuestion,
  standingAnswer,
  standingQuery,
  testDetail,
  testDraft,
  testListQuery,
  testPage,
  testParams,
  testShape,
  weightedAnswer,
  weightedMode,
  weightingQuestion,
} from './schema.js';

const tag = 'Emissions';

/** A description that ends with who decides, and the usual caution. */
const described = (text: string) => `${text}\n\n${caution}`;

const standingProblems = [
  'engine-family-unknown',
  'test-period-unknown',
  'question-too-long',
] as const;

const familyRoutes: readonly Route[] = [
  command({
    path: '/v1/engine-families',
    tag,
    summary: 'Record an engine family of a model year',
    description: described(
      'Its models, what it is certified to for each pollutant, and its production. Never edited: a revision supersedes it.',
    ),
    roles: ['quality'],
    body: familyDraft,
    answer: familyShape,
    problems: ['engine-family-exists', 'model-unknown', 'model-in-other-family'],
    act: (context, { body }) => {
      const row = recordFamily(context, body);
      return { body: presentFamily(row), location: `/v1/engine-families/${row.code}` };
    },
  }),
  command({
    path: '/v1/engine-families/{family}/revisions',
    tag,
    summary: 'Supersede an engine family by its next revision',
    description: described(
      'Says everything anew but code and model year. Draws and results stay; the standing is judged by the revision in force unless another is asked for.',
    ),
    roles: ['quality'],
    params: familyParams,
    body: revisionDraft,
    answer: familyShape,
    problems: ['engine-family-unknown', 'model-unknown', 'model-in-other-family'],
    act: (context, { params, body }) => {
      const row = reviseFamily(context, params.family, body);
      const location = `/v1/engine-families/${row.code}?revision=${row.revision}`;
      return { body: presentFamily(row), location };
    },
  }),
  table({
    path: '/v1/engine-families',
    tag,
    summary: 'Engine families, each in the revision in force',
    description: caution,
    query: familyListQuery,
    item: familyShape,
    answer: familyPage,
    ask: (plant, { query }) => pageById(query, plant.emissions.families, presentFamily),
  }),
  question({
    path: '/v1/engine-families/{family}',
    tag,
    summary: 'One engine family with its test periods',
    description: caution,
    params: familyParams,
    query: revisionQuery,
    answer: familyShape,
    problems: ['engine-family-unknown'],
    ask: (plant, { params, query }) =>
      presentFamily(existingFamily(plant, params.family, query.revision)),
  }),
  table({
    path: '/v1/engine-families/{family}/revisions',
    tag,
    summary: 'Every revision of an engine family',
    description: caution,
    params: familyParams,
    query: familyListQuery,
    item: familyShape,
    answer: familyPage,
    problems: ['engine-family-unknown'],
    ask: (plant, { params, query }) => {
      const { code } = existingFamily(plant, params.family);
      const read = (after: number, limit: number) =>
        plant.emissions.familyRevisions(code, after, limit);
      return pageById(query, read, presentFamily);
    },
  }),
];

const drawRoutes: readonly Route[] = [
  command({
    path: '/v1/engine-families/{family}/draws',
    tag,
    summary: 'Draw engines at random from the production of a test period',
    description: described(
      `The seed is made here, at the draw, by the operating system’s secure generator, and recorded with the population and its digest. ${drawMethod} Engines drawn for the family before are left out.`,
    ),
    roles: ['quality'],
    params: familyParams,
    body: drawDraft,
    answer: drawShape,
    problems: ['engine-family-unknown', 'test-period-unknown', 'too-few-engines'],
    act: (context, { params, body }) => {
      const row = drawFromFamily(context, params.family, body);
      const location = `/v1/engine-families/${row.family}/draws/${row.id}`;
      return { body: presentDraw(row), location };
    },
  }),
  table({
    path: '/v1/engine-families/{family}/draws',
    tag,
    summary: 'Draws of an engine family',
    description: caution,
    params: familyParams,
    query: familyListQuery,
    item: drawShape,
    answer: drawPage,
    problems: ['engine-family-unknown'],
    ask: (plant, { params, query }) => {
      const { code } = existingFamily(plant, params.family);
      const read = (after: number, limit: number) => plant.emissions.draws(code, after, limit);
      return pageById(query, read, presentDraw);
    },
  }),
  question({
    path: '/v1/engine-families/{family}/draws/{draw}',
    tag,
    summary: 'One draw, made again from its recorded population and seed',
    description: caution,
    params: drawParams,
    answer: drawDetail,
    problems: ['engine-family-unknown', 'engine-draw-unknown'],
    ask: (plant, { params }) => {
      const { code } = existingFamily(plant, params.family);
      return repeatedDraw(plant, code, params.draw);
    },
  }),
  table({
    path: '/v1/engine-families/{family}/draws/{draw}/population',
    tag,
    summary: 'The motors that a draw was made from, with their tickets',
    description: described('In ascending order of the tickets; not paged.'),
    params: drawParams,
    item: populationLine,
    answer: populationPage,
    problems: ['engine-family-unknown', 'engine-draw-unknown'],
    ask: (plant, { params }) => {
      const { code } = existingFamily(plant, params.family);
      return { items: drawPopulation(plant, code, params.draw), last: null };
    },
  }),
];

const testRoutes: readonly Route[] = [
  command({
    path: '/v1/engine-families/{family}/results',
    tag,
    summary: 'Record an emission test of a drawn engine',
    description: described(
      'For each pollutant its weighted result, or mass rate and power of the five modes of duty cycle E4, from which it is weighted here. Several tests of one engine are repeat tests and averaged.',
    ),
    roles: ['quality'],
    params: familyParams,
    body: testDraft,
    answer: testDetail,
    problems: [
      ...motorScanProblems,
      'engine-family-unknown',
      'engine-not-drawn',
      'pollutants-mismatch',
      'time-in-future',
      'emission-test-misplaced',
    ],
    act: (context, { params, body }) => {
      const row = recordTest(context, params.family, body);
      const location = `/v1/engine-families/${row.family}/results/${row.id}`;
      return { body: testWithEngine(context.plant, row), location };
    },
  }),
  table({
    path: '/v1/engine-families/{family}/results',
    tag,
    summary: 'Emission tests of an engine family, in the order of recording',
    description: caution,
    params: familyParams,
    query: testListQuery,
    item: testShape,
    answer: testPage,
    problems: ['engine-family-unknown'],
    ask: (plant, { params, query }) => {
      const { code } = existingFamily(plant, params.family);
      const read = (after: number, limit: number) => plant.emissions.tests(code, after, limit);
      return pageById(query, read, presentTest);
    },
  }),
  question({
    path: '/v1/engine-families/{family}/results/{result}',
    tag,
    summary: 'One emission test with its engine’s results so far',
    description: caution,
    params: testParams,
    answer: testDetail,
    problems: ['engine-family-unknown', 'emission-test-unknown'],
    ask: (plant, { params }) => {
      const { code } = existingFamily(plant, params.family);
      return testWithEngine(plant, existingTest(plant, code, params.result));
    },
  }),
  command({
    path: '/v1/engine-families/{family}/results/{result}/invalidation',
    tag,
    summary: 'Take an emission test out of the count, with the reason',
    description: described(
      'For a test that was no valid one. It stays in the record: the report wants valid and invalid tests with the reason (40 CFR 1045.345(a)(6)).',
    ),
    roles: ['quality'],
    params: testParams,
    body: invalidationDraft,
    answer: testDetail,
    status: 200,
    problems: ['engine-family-unknown', 'emission-test-unknown', 'emission-test-invalidated'],
    act: (context, { params, body }) => {
      const { code } = existingFamily(context.plant, params.family);
      const row = invalidateTest(context, code, params.result, body);
      return { body: testWithEngine(context.plant, row) };
    },
  }),
];

type Standing = z.input<typeof standingAnswer>;
type CumSumLine = z.input<typeof cumSumLine>;

const standingRoutes: readonly Route[] = [
  question({
    path: '/v1/engine-families/{family}/standing',
    tag,
    summary: 'Where an engine family stands: pass, fail or continue, with the rule that decided it',
    description: described(
      `For each pollutant the results in the order of testing, their mean and standard deviation, the sample size and the CumSum with its action limit. ${aidAndSources.sources}`,
    ),
    params: familyParams,
    query: standingQuery,
    answer: standingAnswer,
    problems: standingProblems,
    ask: (_plant, { params, query }, { inWorker, now, settings }) => {
      const today = plantDay(now, settings.timeZone);
      const asked: StandingAsked = { ...standingAsked(params, query), today };
      return inWorker<Standing>('emission-standing', asked);
    },
  }),
  table({
    path: '/v1/engine-families/{family}/cumsum',
    tag,
    summary: 'The CumSum of an engine family, engine by engine, for each pollutant',
    description: described('The figures of the standing as a table; not paged.'),
    params: familyParams,
    query: standingQuery,
    item: cumSumLine,
    answer: cumSumPage,
    problems: standingProblems,
    ask: async (_plant, { params, query }, { inWorker, now, settings }) => {
      const today = plantDay(now, settings.timeZone);
      const asked: StandingAsked = { ...standingAsked(params, query), today };
      const standing = await inWorker<Standing>('emission-standing', asked);
      return { items: linesOf(standing), last: null };
    },
  }),
];

function standingAsked(
  { family }: z.output<typeof familyParams>,
  { period, revision }: z.output<typeof standingQuery>,
): Omit<StandingAsked, 'today'> {
  return { family, period, revision };
}

function linesOf({ pollutants, aid }: Standing): CumSumLine[] {
  return pollutants.flatMap(({ pollutant, standard, unit, cumSum }) =>
    cumSum.map((step): CumSumLine => ({ pollutant, standard, unit, ...step, aid })),
  );
}

const inquiryRoutes: readonly Route[] = [
  inquiry({
    path: '/v1/emissions/weighted-result',
    tag,
    summary: 'The weighted result of duty cycle E4 from its five modes',
    description: described(
      'The weighted sum of the mass rates over the weighted sum of the powers. Weights: 40 CFR part 1045 appendix II, read; formula: 40 CFR 1065.650, from memory. Nothing is stored.',
    ),
    body: weightingQuestion,
    item: weightedMode,
    answer: weightedAnswer,
    ask: async (_plant, { body }) => weightedResultOf(body.modes),
  }),
  inquiry({
    path: '/v1/emissions/sample-size',
    tag,
    summary: 'Sample size and CumSum after each of a pollutant’s results',
    description: described(`Nothing is stored. ${aidAndSources.sources}`),
    body: sampleSizeQuestion,
    item: sampleSizeLine,
    answer: sampleSizeAnswer,
    problems: ['question-too-long'],
    ask: (_plant, { body }, { inWorker }) =>
      inWorker<z.input<typeof sampleSizeAnswer>>('emission-sample-size', body),
  }),
];

/** Production-line testing of emissions. */
export const emissionRoutes: readonly Route[] = [
  ...familyRoutes,
  ...drawRoutes,
  ...testRoutes,
  ...standingRoutes,
  ...inquiryRoutes,
];
