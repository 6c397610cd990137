import { accessEvents } from '../access/events.js';
import { calendarEvents } from '../calendar/events.js';
import { catalogueEvents } from '../catalogue/events.js';
import { chartEvents } from '../charts/events.js';
import { containmentEvents } from '../containment/events.js';
import { emissionEvents } from '../emissions/events.js';
import { orderEvents } from '../orders/events.js';
import { pairingEvents } from '../pairing/events.js';
import { referenceEvents } from '../reference/events.js';
import { releaseEvents } from '../release/events.js';
import { repairEvents } from '../repair/events.js';
import { returnEvents } from '../returns/events.js';
import { testingEvents } from '../testing/events.js';
import { unitEvents } from '../units/events.js';
import type { Applier } from './applier.js';

/** Every kind of event, with what it does to the state tables. */
export const appliers = {
  ...accessEvents,
  ...catalogueEvents,
  ...orderEvents,
  ...unitEvents,
  ...pairingEvents,
  ...testingEvents,
  ...repairEvents,
  ...releaseEvents,
  ...containmentEvents,
  ...returnEvents,
  ...calendarEvents,
  ...chartEvents,
  ...referenceEvents,
  ...emissionEvents,
};

export type EventKind = keyof typeof appliers;
export type Content<K extends EventKind> =
  (typeof appliers)[K] extends Applier<infer C> ? C : never;
