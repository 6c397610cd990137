import { z } from 'zod';
import { historyQuery } from '../genealogy/schema.js';

export const reportQuery = z.strictObject({
  ...historyQuery.shape,
  paper: z
    .enum(['a4', 'letter'])
    .optional()
    .meta({ description: 'Size of the sheets; A4 for a PDF where left out.' }),
});
