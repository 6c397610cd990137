import { z } from 'zod';
import { code, instant, scanText } from '../http/shapes.js';

export const reportQuery = z.strictObject({
  serial: scanText,
  class: code
    .optional()
    .meta({ description: 'Needed only where units of several classes bear the serial.' }),
  asOf: instant.optional().meta({
    description:
      'Everything as it was known then, but for the state of the unit itself; now where left out.',
  }),
  paper: z
    .enum(['a4', 'letter'])
    .optional()
    .meta({ description: 'Size of the sheets; A4 for a PDF where left out.' }),
});
