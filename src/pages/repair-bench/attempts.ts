import { areCommensurable, convert } from '../../measurement/units.js';
import type { Plant } from '../../plant.js';
import { type ReadingShown, readingsOfRun } from '../parts-reading.js';

/** One completed run of a motor, and what it read of a characteristic. */
export interface Attempt {
  attempt: number;
  run: number;
  cell: string;
  endedAtMs: number;
  reading: ReadingShown;
}

/**
 * A characteristic over the completed runs of a motor, first to last, in the unit that it is
 * shown in; runs that did not read it, or in a unit that does not convert, are left out.
 */
export function attemptsOf(plant: Plant, motorId: number, shown: ReadingShown): Attempt[] {
  return plant.testing.runsOf(motorId).flatMap((run) => {
    const found = readingsOfRun(plant, run).find((one) => one.code === shown.code);
    const reading = found && inUnit(found, shown.unit);
    const { attempt, endedAtMs, id, cell } = run;
    if (!reading || reading.value === null || attempt === null || endedAtMs === null) return [];
    return [{ attempt, run: id, cell, endedAtMs, reading }];
  });
}

function inUnit(reading: ReadingShown, unit: string | null): ReadingShown | undefined {
  const { unit: from } = reading;
  if (from === unit) return reading;
  if (from === null || unit === null || !areCommensurable(from, unit)) return undefined;
  const to = (value: number | null) => (value === null ? null : convert(value, from, unit));
  return {
    ...reading,
    unit,
    value: typeof reading.value === 'number' ? to(reading.value) : reading.value,
    lower: to(reading.lower),
    upper: to(reading.upper),
    acceptLower: to(reading.acceptLower),
    acceptUpper: to(reading.acceptUpper),
    nominal: to(reading.nominal),
  };
}
