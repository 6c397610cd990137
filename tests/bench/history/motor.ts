import { formatSerial } from '../../../src/pairing/serial.js';
import type { Fastening } from '../../../src/units/records.js';
import { inspectionKindOf } from '../../../src/units/rules.js';
import { FASTENING, settings } from '../support/plant.js';
import { type Builder, type Finished, MINUTE, type Motor } from './builder.js';
import { KEY } from './journal.js';
import { writeFailure, writePass } from './runs.js';

/** Motor, powerhead, lower unit and the components of the powerhead. */
const UNITS_A_MOTOR = 6;
const MOTORS_A_LOT = 500;
export const MOTORS_AN_ORDER = 1000;
/** Motors of one release. */
export const MOTORS_A_TRUCK = 20;
/** Every tenth motor fails once and is repaired: 1.1 runs a motor. */
const FAILS_EVERY = 10;
const CELLS = 12;
const STATIONS = 3;

/** The serial of the motor with an index from 0, set in a year. */
export function motorSerial(index: number, year: number): string {
  return formatSerial(settings.serialFormat, index + 1, year);
}

/** Writes a motor's life: its parts enter, it is set, tested, where it fails repaired and tested again. */
export function writeMotor(
  builder: Builder,
  index: number,
  atMs: number,
  released: boolean,
): Finished {
  const first = index * UNITS_A_MOTOR;
  const motor: Motor = {
    index,
    id: first + UNITS_A_MOTOR,
    powerheadId: first + 4,
    lowerUnitId: first + 5,
    serial: motorSerial(index, new Date(atMs).getUTCFullYear()),
    station: `SET-${(index % STATIONS) + 1}`,
    cell: `CELL-${(index % CELLS) + 1}`,
    atMs,
  };
  writePowerhead(builder, motor);
  enter(builder, motor, {
    id: motor.lowerUnitId,
    class: 'lower-unit',
    serial: partSerial('L', index),
    partId: builder.catalogue.lowerUnitPartId,
  });
  writeSet(builder, motor, released);
  const fails = index % FAILS_EVERY === 0;
  if (fails) writeFailure(builder, motor);
  return { motorId: motor.id, runId: writePass(builder, motor, fails ? 2 : 1) };
}

function partSerial(prefix: string, index: number): string {
  return `${prefix}${String(index).padStart(7, '0')}`;
}

interface Part {
  id: number;
  class: string;
  serial: string;
  partId: number;
}

type Fitted = { parentId: number; position: string; childId: number };

function writePowerhead(builder: Builder, motor: Motor): void {
  const { components, powerheadPartId } = builder.catalogue;
  const fitted = components.map((component, i): Fitted => {
    const childId = motor.index * UNITS_A_MOTOR + 1 + i;
    const serial = partSerial(component.class.slice(0, 1).toUpperCase(), motor.index);
    enter(builder, motor, {
      id: childId,
      class: component.class,
      serial,
      partId: component.partId,
    });
    return { parentId: motor.powerheadId, position: component.class, childId };
  });
  const serial = partSerial('P', motor.index);
  const powerhead = { id: motor.powerheadId, class: 'powerhead', serial, partId: powerheadPartId };
  enter(
    builder,
    motor,
    powerhead,
    fitted,
    [1, 2].map((n) => fasteningOf(n, motor.atMs)),
  );
}

function fasteningOf(number: number, atMs: number): Fastening {
  return { ...FASTENING, joint: `cylinder head ${number}`, conforms: true, atMs };
}

function enter(
  { tables, journal, catalogue }: Builder,
  motor: Motor,
  part: Part,
  components: Fitted[] = [],
  fastenings: Fastening[] = [],
): void {
  const { atMs } = motor;
  const kind = inspectionKindOf(part.class);
  const lotIndex = Math.floor(motor.index / MOTORS_A_LOT);
  const isHalf = part.id === motor.powerheadId || part.id === motor.lowerUnitId;
  const lots = isHalf ? [{ partId: catalogue.lotPartId, lot: `LOT-${lotIndex}` }] : [];
  tables.units.add(part.id, part.class, part.serial, part.partId, null, '{}', 'installed', atMs);
  tables.inspections.add(part.id, kind, 'accepted', atMs);
  for (const one of fastenings) {
    // The rest stands in the order of the columns.
    const { conforms, atMs: fastenedAt, ...rest } = one;
    tables.fastenings.add(part.id, ...Object.values(rest), Number(conforms), fastenedAt);
  }
  for (const one of lots) {
    if (motor.index % MOTORS_A_LOT === 0 && part.class === 'powerhead') {
      tables.lots.add(lotIndex + 1, one.partId, one.lot);
    }
    tables.lot_uses.add(part.id, lotIndex + 1, atMs);
  }
  for (const one of components) {
    tables.installations.add(one.parentId, one.position, one.childId, atMs);
  }
  journal.add(
    'unit.entered',
    {
      unit: { ...part, modelId: null, attributes: {}, state: 'accepted' },
      inspection: { kind, result: 'accepted', note: null, atMs },
      fastenings,
      lots,
      components,
    },
    { units: [part.id, ...components.map((one) => one.childId)], atMs, station: motor.station },
  );
}

function writeSet({ tables, journal, catalogue }: Builder, motor: Motor, released: boolean): void {
  const { id, serial, powerheadId, lowerUnitId, station, index } = motor;
  const { modelId, configurationId } = catalogue;
  const atMs = motor.atMs + MINUTE;
  const orderId = Math.floor(index / MOTORS_AN_ORDER) + 1;
  const scans = {
    powerheadScan: partSerial('P', index),
    lowerUnitScan: partSerial('L', index),
    orderNumber: `O-${orderId}`,
  };
  const attributes = { shaftLength: '508 mm', rotation: 'right' };
  const state = released ? 'released' : 'passed';
  tables.units.add(id, 'motor', serial, null, modelId, JSON.stringify(attributes), state, atMs);
  tables.installations.add(id, 'powerhead', powerheadId, atMs);
  tables.installations.add(id, 'lower-unit', lowerUnitId, atMs);
  tables.sets.add(id, powerheadId, lowerUnitId, orderId, configurationId, station, KEY, atMs);
  tables.set_attempts.add(atMs, station, KEY, ...Object.values(scans), 'set', serial, id);
  journal.add(
    'pair.set',
    {
      motorId: id,
      serial,
      number: index + 1,
      modelId,
      attributes,
      powerheadId,
      lowerUnitId,
      orderId,
      configurationId,
      station,
      ...scans,
    },
    { units: [id, powerheadId, lowerUnitId], atMs, station },
  );
}
