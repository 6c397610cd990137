import { pageById } from '../http/cursor.js';
import { command, question, table } from '../http/route.js';
import { timeProblems } from '../time.js';
import { motorScanProblems } from '../units/resolve.js';
import { gateOf, releaseMotors } from './actions.js';
import {
  gateQuery,
  gateShape,
  presentRelease,
  releaseAnswer,
  releaseDraft,
  releasePage,
  releaseQuery,
  releaseShape,
} from './schema.js';

const tag = 'Release';

export const releaseRoutes = [
  question({
    path: '/v1/release-gate',
    tag,
    summary: 'May this motor be released? If not, every reason why not',
    query: gateQuery,
    answer: gateShape,
    problems: motorScanProblems,
    ask: (plant, { query }) => {
      const { motor, reasons } = gateOf(plant, query.motor);
      return { motor: motor.serial, releasable: reasons.length === 0, reasons };
    },
  }),
  command({
    path: '/v1/releases',
    tag,
    summary: 'Release motors to shipping, all of the batch or none',
    roles: ['quality'],
    body: releaseDraft,
    answer: releaseAnswer,
    problems: [...motorScanProblems, 'not-releasable', ...timeProblems],
    act: (context, { body }) => ({
      body: { released: releaseMotors(context, body).map(presentRelease) },
    }),
  }),
  table({
    path: '/v1/releases',
    tag,
    summary: 'Released motors',
    query: releaseQuery,
    item: releaseShape,
    answer: releasePage,
    ask: (plant, { query }) => pageById(query, plant.release.list, presentRelease),
  }),
];
