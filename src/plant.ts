import type { Database } from 'better-sqlite3';
import { accessRecords } from './access/records.js';
import { sessionRecords } from './access/session-records.js';
import { calendarRecords } from './calendar/records.js';
import { catalogueRecords } from './catalogue/records.js';
import { specificationRecords } from './catalogue/specification-records.js';
import { chartRecords } from './charts/records.js';
import { containmentRecords } from './containment/records.js';
import { emissionRecords } from './emissions/records.js';
import { genealogyRecords } from './genealogy/records.js';
import { idempotencyRecords } from './http/idempotency.js';
import { journalRecords } from './journal/records.js';
import { orderRecords } from './orders/records.js';
import { pairingRecords } from './pairing/records.js';
import { referenceRecords } from './reference/records.js';
import { releaseRecords } from './release/records.js';
import { repairRecords } from './repair/records.js';
import { factorRecords } from './returns/factor-records.js';
import { neighbourRecords } from './returns/neighbour-records.js';
import { returnRecords } from './returns/records.js';
import { seriesRecords } from './series/records.js';
import { atomicallyOn } from './store/atomically.js';
import { testingRecords } from './testing/records.js';
import { tracingRecords } from './tracing/records.js';
import { unitRecords } from './units/records.js';
import { yieldRecords } from './yield/records.js';
import { reworkRecords } from './yield/rework-records.js';

/** Every capability's records on one connection; each statement is prepared here, once. */
export function connectPlant(db: Database) {
  return {
    access: accessRecords(db),
    sessions: sessionRecords(db),
    idempotency: idempotencyRecords(db),
    journal: journalRecords(db),
    catalogue: catalogueRecords(db),
    specifications: specificationRecords(db),
    orders: orderRecords(db),
    units: unitRecords(db),
    genealogy: genealogyRecords(db),
    pairing: pairingRecords(db),
    testing: testingRecords(db),
    repair: repairRecords(db),
    release: releaseRecords(db),
    yield: yieldRecords(db),
    rework: reworkRecords(db),
    calendar: calendarRecords(db),
    series: seriesRecords(db),
    charts: chartRecords(db),
    reference: referenceRecords(db),
    emissions: emissionRecords(db),
    tracing: tracingRecords(db),
    containment: containmentRecords(db),
    returns: { ...returnRecords(db), ...neighbourRecords(db), ...factorRecords(db) },
    /** Runs work whole, or undoes it where it throws: a savepoint inside a transaction, else one. */
    atomically: atomicallyOn(db),
  };
}

export type Plant = ReturnType<typeof connectPlant>;
