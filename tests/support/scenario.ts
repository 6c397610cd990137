import { nextNumber } from './numbers.js';
import type { TestPlant } from './plant.js';

/** A small catalogue: one model, one configuration, one specification, all in force. */
export async function furnish(plant: TestPlant): Promise<void> {
  await plant.make('configuration', '/v1/part-classes', { code: 'fuel-pump', name: 'Fuel pump' });
  const parts = [
    {
      number: 'PH-100',
      revision: 'A',
      name: 'Powerhead 100',
      tracking: 'serial',
      class: 'powerhead',
    },
    {
      number: 'PH-100',
      revision: 'B',
      name: 'Powerhead 100',
      tracking: 'serial',
      class: 'powerhead',
    },
    {
      number: 'LU-20',
      revision: 'A',
      name: 'Lower unit 20',
      tracking: 'serial',
      class: 'lower-unit',
      attributes: { shaftLength: '508 mm' },
    },
    {
      number: 'LU-25',
      revision: 'A',
      name: 'Lower unit 25',
      tracking: 'serial',
      class: 'lower-unit',
      attributes: { shaftLength: '635 mm' },
    },
    { number: 'FP-1', revision: 'A', name: 'Fuel pump', tracking: 'serial', class: 'fuel-pump' },
    { number: 'PRIMER', revision: '1', name: 'Primer', tracking: 'lot' },
  ];
  for (const part of parts) await plant.make('configuration', '/v1/parts', part);
  await plant.make('configuration', '/v1/models', {
    code: 'F100L',
    name: 'Hundred, long shaft',
    ratedPowerKw: 73.5,
    attributes: { shaftLength: '508 mm' },
  });
  const configuration = await plant.make<{ id: number }>('configuration', '/v1/configurations', {
    code: 'F100L-A',
    model: 'F100L',
    powerheadNumber: 'PH-100',
    lowerUnitNumber: 'LU-20',
  });
  await plant.make('configuration 2', `/v1/configurations/${configuration.id}/approval`, {});
  const specification = await plant.make<{ id: number }>(
    'quality',
    '/v1/specifications',
    specificationDraft(),
  );
  await plant.make('quality 2', `/v1/specifications/${specification.id}/approval`, {});
  const codes = [
    { kind: 'symptom', code: 'low-pressure', name: 'Low water pressure' },
    { kind: 'cause', code: 'impeller', name: 'Impeller damaged' },
    { kind: 'action', code: 'replaced', name: 'Part replaced' },
  ];
  for (const one of codes) await plant.make('quality', '/v1/repair-codes', one);
  plant.wait(1000);
}

export function specificationDraft() {
  return {
    model: 'F100L',
    note: 'First issue',
    prompts: [
      {
        text: 'Run at idle',
        caution: 'Moving parts, hot surfaces, exhaust: stay outside the guard.',
        characteristics: [
          {
            kind: 'measured',
            code: 'idle-speed',
            name: 'Idle speed',
            unit: '/min',
            lower: 600,
            upper: 700,
            decimals: 0,
          },
          {
            kind: 'measured',
            code: 'water-pressure',
            name: 'Water pressure at idle',
            unit: 'kPa',
            lower: 50,
            upper: 150,
            guardBand: 5,
            decimals: 1,
          },
        ],
      },
      {
        text: 'Look at the telltale',
        characteristics: [
          { kind: 'attribute', code: 'telltale', name: 'Telltale runs', expected: true },
        ],
      },
    ],
  };
}

type Made = 'powerhead' | 'lower-unit' | 'fuel-pump';
const prefix: Record<Made, string> = { powerhead: 'P', 'lower-unit': 'L', 'fuel-pump': 'F' };
const usual: Record<Made, [string, string]> = {
  powerhead: ['PH-100', 'A'],
  'lower-unit': ['LU-20', 'A'],
  'fuel-pump': ['FP-1', 'A'],
};

/** A fastening inside its window. */
export const goodFastening = {
  joint: 'cylinder head 1',
  tool: 'DC-1',
  torque: 30,
  torqueLower: 28,
  torqueUpper: 32,
  torqueUnit: 'N.m',
  angle: 90,
  angleLower: 85,
  angleUpper: 95,
  angleUnit: 'deg',
};

/** The body that enters a unit of a class under a fresh serial. */
export function unitDraft(unitClass: Made, more: Record<string, unknown> = {}) {
  const [number, revision] = usual[unitClass];
  return {
    class: unitClass,
    serial: `${prefix[unitClass]}${String(nextNumber(unitClass)).padStart(5, '0')}`,
    part: { number, revision },
    inspection: { result: 'accepted' },
    ...(unitClass === 'powerhead' ? { fastenings: [goodFastening] } : {}),
    ...more,
  };
}

/** Enters an accepted unit and returns its serial. */
export async function enter(
  plant: TestPlant,
  unitClass: Made,
  more: Record<string, unknown> = {},
): Promise<string> {
  const unit = await plant.make<{ serial: string }>('set', '/v1/units', unitDraft(unitClass, more));
  return unit.serial;
}

/** Opens an order for the model and returns its number. */
export async function order(
  plant: TestPlant,
  quantity = 1,
  more: Record<string, unknown> = {},
): Promise<string> {
  const number = `O-${nextNumber('order')}`;
  await plant.make('configuration', '/v1/orders', {
    number,
    model: 'F100L',
    quantity,
    dueOn: '2026-03-10',
    ...more,
  });
  return number;
}

export interface MotorMade {
  motor: string;
  powerhead: string;
  lowerUnit: string;
  order: string;
}

/** Sets a fresh pair under a fresh order. */
export async function setMotor(plant: TestPlant): Promise<MotorMade> {
  const number = await order(plant);
  const powerhead = await enter(plant, 'powerhead');
  const lowerUnit = await enter(plant, 'lower-unit');
  plant.wait(1000);
  return plant.make<MotorMade>('set', '/v1/sets', {
    powerhead,
    lowerUnit,
    order: number,
    station: 'SET-1',
  });
}

export const passing = [
  { code: 'idle-speed', value: 650 },
  { code: 'water-pressure', value: 100 },
  { code: 'telltale', value: true },
];
export const failing = [
  { code: 'idle-speed', value: 650 },
  { code: 'water-pressure', value: 20 },
  { code: 'telltale', value: true },
];

/** Runs a motor once in a cell of its own and returns the completion. */
export async function runMotor(
  plant: TestPlant,
  motor: string,
  readings: readonly object[] = passing,
): Promise<{
  run: number;
  verdict: string;
  repair: number | null;
  attempt: number;
  firstPass: boolean | null;
}> {
  const run = await plant.make<{ id: number }>('cell', '/v1/runs', {
    motor,
    cell: `CELL-${nextNumber('cell')}`,
  });
  plant.wait(60_000);
  return plant.make('cell', `/v1/runs/${run.id}/completion`, { readings });
}

/** Closes a repair as a technician would. */
export async function closeRepair(plant: TestPlant, repair: number): Promise<void> {
  plant.wait(60_000);
  await plant.make('repair', `/v1/repairs/${repair}/closure`, {
    symptom: 'low-pressure',
    cause: 'impeller',
    action: 'replaced',
  });
}

/** Starts a run in a cell of its own, or in the one named, and returns its id. */
export async function openRun(plant: TestPlant, motor: string, cell?: string): Promise<number> {
  const own = `CELL-${nextNumber('cell')}`;
  const body = { motor, cell: cell ?? own };
  const run = await plant.make<{ id: number }>('cell', '/v1/runs', body);
  return run.id;
}

/** Fails a fresh motor and returns it with the repair that this opened. */
export async function failedMotor(plant: TestPlant): Promise<MotorMade & { repair: number }> {
  const made = await setMotor(plant);
  const { repair } = await runMotor(plant, made.motor, failing);
  return { ...made, repair: repair ?? 0 };
}

/** Puts a specification in force at once and returns its id. */
export async function specify(plant: TestPlant, draft: object): Promise<number> {
  const { id } = await plant.make<{ id: number }>('quality', '/v1/specifications', draft);
  await plant.make('quality 2', `/v1/specifications/${id}/approval`, {});
  plant.wait(1000);
  return id;
}

/** Puts a unit on hold and returns the hold's id. */
export async function hold(plant: TestPlant, unitClass: string, unit: string): Promise<number> {
  const body = { class: unitClass, unit, cause: 'quality', reason: 'To be looked at' };
  return (await plant.make<{ id: number }>('quality', '/v1/holds', body)).id;
}

/** The state of a unit, read back through its history. */
export async function stateOf(plant: TestPlant, unitClass: string, serial: string) {
  const answer = await plant.get('read', `/v1/history?serial=${serial}&class=${unitClass}`);
  return answer.body.unit.state as string;
}

/**
 * Sends a command that must be refused, and returns its problem document.
 * @throws Error when it was not refused with that problem, or the journal grew by it
 */
export async function refused(
  plant: TestPlant,
  slug: string,
  send: () => Promise<{ status: number; text: string; body: Record<string, unknown> }>,
): Promise<Record<string, unknown>> {
  const before = plant.eventCount();
  const answer = await send();
  if (answer.body.type !== `/problems/${slug}`) {
    throw new Error(`not refused as ${slug}: ${answer.status} ${answer.text}`);
  }
  if (plant.eventCount() !== before)
    throw new Error(`refused as ${slug}, yet it changed something`);
  return answer.body;
}

/** Drafts a revision of a configuration, has another key approve it, and returns its id. */
export async function configure(
  plant: TestPlant,
  draft: Record<string, unknown>,
  approval: { effectiveFrom?: string } = {},
): Promise<number> {
  const usualTerms = { model: 'F100L', powerheadNumber: 'PH-100', lowerUnitNumber: 'LU-20' };
  const drafted = await plant.make<{ id: number }>('configuration', '/v1/configurations', {
    ...usualTerms,
    ...draft,
  });
  await plant.make('configuration 2', `/v1/configurations/${drafted.id}/approval`, approval);
  return drafted.id;
}

/** Puts a unit on hold for a reason of the test's own and returns the hold's id. */
export async function holdBecause(
  plant: TestPlant,
  unitClass: string,
  unit: string,
  why: { cause: string; reason: string },
): Promise<number> {
  const body = { class: unitClass, unit, ...why };
  return (await plant.make<{ id: number }>('quality', '/v1/holds', body)).id;
}
