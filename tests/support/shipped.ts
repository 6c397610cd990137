import type { TestPlant } from './plant.js';
import { enter, openRun, order } from './scenario.js';

interface Shipped {
  motor: string;
  powerhead: string;
  lowerUnit: string;
}

interface How {
  /** A lot of primer on the lower unit. */
  lot?: string;
  cell?: string;
  /** Water pressure at idle in kPa; 100 is in the middle. */
  pressure?: number;
  /** What happens between set and the run that it is released on. */
  before?: (motor: string) => Promise<unknown>;
}

/** Sets, tests and releases a fresh motor. */
export async function ship(plant: TestPlant, how: How = {}): Promise<Shipped> {
  const lots = how.lot ? [{ part: 'PRIMER', revision: '1', lot: how.lot }] : [];
  const powerhead = await enter(plant, 'powerhead');
  const lowerUnit = await enter(plant, 'lower-unit', { lots });
  const number = await order(plant);
  plant.wait(1000);
  const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', {
    powerhead,
    lowerUnit,
    order: number,
    station: 'SET-1',
  });
  await how.before?.(motor);
  const run = await openRun(plant, motor, how.cell);
  plant.wait(1000);
  await plant.make('cell', `/v1/runs/${run}/completion`, {
    readings: [
      { code: 'idle-speed', value: 650 },
      { code: 'water-pressure', value: how.pressure ?? 100 },
      { code: 'telltale', value: true },
    ],
  });
  await plant.make('quality', '/v1/releases', { motors: [motor] });
  return { motor, powerhead, lowerUnit };
}

/** Lets time pass until an instant, RFC 3339. */
export function waitUntil(plant: TestPlant, instant: string): void {
  plant.wait(Date.parse(instant) - plant.now);
}

export interface Returned {
  id: number;
  motor: string;
  monthsInService: number;
}

/** Records a field return for low water pressure, or as said, and returns it. */
export function bringBack(
  plant: TestPlant,
  unit: string,
  returnedOn: string,
  more: Record<string, unknown> = {},
): Promise<Returned> {
  const body = { unit, returnedOn, symptom: 'low-pressure', ...more };
  return plant.make<Returned>('quality', '/v1/returns', body);
}
