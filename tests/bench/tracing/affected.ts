import type { Command } from '../../../src/command.js';
import { databaseFile } from '../../../src/config.js';
import { setPair } from '../../../src/pairing/actions.js';
import { Problem } from '../../../src/problems.js';
import { enterUnit } from '../../../src/units/entry-actions.js';
import {
  FASTENING,
  LOT_PART,
  LOWER_UNIT,
  type Pair,
  POWERHEAD,
  PreparedPlant,
} from '../support/plant.js';

export const AFFECTED_LOT = 'BENCH-AFFECTED';
/** The order that the scans during a containment are for. */
export const ORDER = 'BENCH';

/** Motors with one lot, all still inside, and loose pairs to set meanwhile. */
export interface Affected {
  motors: string[];
  pairs: Pair[];
}

/** Enters and sets motors with the lot through the service's own actions, and enters pairs without it. */
export async function prepareAffected(
  folder: string,
  motors: number,
  pairs: number,
): Promise<Affected> {
  const plant = new PreparedPlant(databaseFile(folder));
  try {
    await plant.order(AFFECTED_LOT, motors);
    const affected = await plant.times(motors, setWithLot);
    await plant.order(ORDER, pairs);
    return { motors: affected, pairs: await plant.pairs(pairs, 'X') };
  } finally {
    plant.close();
  }
}

function setWithLot(command: Command, i: number): string {
  const { number, revision } = LOT_PART;
  const lots = [{ part: number, revision, lot: AFFECTED_LOT }];
  const inspection = { result: 'accepted' as const };
  const halves = [
    { class: 'powerhead', serial: `PA${i}`, part: POWERHEAD, fastenings: [FASTENING] },
    { class: 'lower-unit', serial: `LA${i}`, part: LOWER_UNIT, fastenings: [] },
  ];
  for (const half of halves) enterUnit(command, { ...half, inspection, lots });
  const done = setPair(command, {
    powerhead: `PA${i}`,
    lowerUnit: `LA${i}`,
    order: AFFECTED_LOT,
    station: 'SET-1',
  });
  if (done instanceof Problem) throw done;
  return done.serial;
}
