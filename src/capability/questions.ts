import { capabilityOf, overviewOf } from './capability-questions.js';
import { cellWeeks, comparisonOf } from './comparison-questions.js';
import { readingsOf } from './reading-questions.js';

/** The long questions of this capability, by name; see src/reader.ts. */
export const capabilityQuestions = {
  capability: capabilityOf,
  'capability-overview': overviewOf,
  'capability-readings': readingsOf,
  'cell-comparison': comparisonOf,
  'cell-weeks': cellWeeks,
};
