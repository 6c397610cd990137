/** Words beside a reading and its limits, on whichever screen it stands. */
export const reading = {
  state: {
    waiting: 'Not read yet',
    optional: 'Not read; may be left out',
    accepted: 'Accepted',
    'guard-band': 'In the guard band, not accepted',
    below: 'Below the specification limit',
    above: 'Above the specification limit',
    unexpected: 'Not as it has to be',
    unlimited: 'Recorded, has no limits',
  },
  yes: 'Yes',
  no: 'No',
  wanted: (answer: string) => `has to be: ${answer}`,
  limits: (range: string) => `accepted ${range}`,
  guarded: (accepted: string, specified: string) =>
    `accepted ${accepted}, specification ${specified}`,
  between: (lower: string, upper: string) => `${lower} to ${upper}`,
  atLeast: (limit: string) => `at least ${limit}`,
  atMost: (limit: string) => `at most ${limit}`,
};
