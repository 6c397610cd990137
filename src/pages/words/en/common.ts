/** Words of the frame around every screen, and of what screens share. */
export const common = {
  product: 'Skeg',
  skipToMain: 'Skip to the screen',
  screensLabel: 'Screens',
  screens: {
    'set-station': 'Set station',
    'test-cell': 'Test cell',
    'repair-bench': 'Repair bench',
    history: 'History',
    quality: 'Quality',
    live: 'Live',
    catalogue: 'Catalogue',
  },
  signIn: {
    title: 'Sign in',
    lead: 'Use the key of this station, or your own. It is kept as long as the browser is open, and ends after twelve hours without use.',
    token: 'Key',
    tokenHint: 'Begins with skeg_. Type it, paste it, or scan it.',
    submit: 'Sign in',
    missing: 'Enter a key first.',
    refused:
      'This key is not known, has expired or was revoked. Check it, or ask an administrator for another.',
    tooMany: 'Too many failed attempts from here. Wait a minute, then try again.',
  },
  signOut: 'Sign out',
  signedInAs: (name: string) => `Signed in as ${name}`,
  footer: (timeZone: string) =>
    `Times are those of the plant’s time zone, ${timeZone}. This service records and judges; it moves nothing and guards nobody.`,
  none: 'None',
  error: {
    /** What to do, by the status of the answer. */
    advice: {
      403: 'Sign in with a key that has the role, or ask an administrator for one.',
      404: 'Check the address, or begin at the first screen.',
      500: 'Try again. If it stays so, tell whoever looks after the service.',
      503: 'Try again in a moment.',
    } as Record<number, string>,
    back: 'To the first screen',
    signIn: 'Sign in with another key',
    reference: (id: string) => `Tell this reference to whoever looks after the service: ${id}`,
    notYours: (key: string, roles: readonly string[] | 'any') =>
      `This screen is for keys with the role ${typeof roles === 'string' ? roles : roles.join(' or ')}; key ${key} has none of them.`,
    noScreen: 'No screen is meant for the roles of this key. An administrator can issue another.',
  },
  answer: {
    accepted: 'Done',
    refused: 'Refused',
    noted: 'Taken',
    waiting: 'No answer',
    caution: 'Caution',
  },
  /** What the browser says by itself, when no answer of the service is at hand. */
  network: {
    lost: 'The service cannot be reached',
    lostDetail: 'The network or the service is down.',
    sendAgain:
      'Whether it was carried out is not known here. Send it again: it is carried out once, however often it is sent.',
    back: 'The service answers again',
    signedOut: 'You are signed out',
    signedOutDetail: 'The session has ended. Sign in again; what waits here is kept.',
    signInAgain: 'Sign in again',
    strange: 'An answer that cannot be read',
    strangeDetail: 'Something between here and the service answered in its place. Try again.',
  },
  chart: {
    asTable: 'The same as a table',
    notDrawn: 'The chart cannot be drawn in this browser; its table says the same.',
  },
  unit: { hours: 'h', minutes: 'min', seconds: 's', days: 'd' },
};
