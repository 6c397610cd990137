import { question } from '../http/route.js';
import { anyScanProblems } from '../units/resolve.js';
import { treeOf } from './tree.js';
import { treeQuery, treeShape } from './tree-schema.js';

export const treeRoutes = [
  question({
    path: '/v1/tree',
    tag: 'Genealogy',
    summary: 'What is in a unit, or what it is in',
    description:
      'By any serial or scan, of a motor, a half or a component: with positions, since when and until when, now or at any instant.',
    query: treeQuery,
    answer: treeShape,
    problems: anyScanProblems,
    ask: (plant, { query }, { now }) => plant.atomically(() => treeOf(plant, query, now)),
  }),
];
