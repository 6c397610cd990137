import type { z } from 'zod';
import type { OrderRow } from '../orders/records.js';
import { presentOrder } from '../orders/schema.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { assertFree } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import { readSerialScan, resolveAnyUnit } from '../units/resolve.js';
import { isHalf, nameOfClass } from '../units/rules.js';
import { assertOrderOpen } from './actions.js';
import type { recognisedShape } from './schema.js';

type Recognised = z.input<typeof recognisedShape>;

/**
 * What was scanned at a set station, in whatever order a person scans: a half by its serial,
 * else a build order by its number. Says beside it why it would be refused now.
 * @throws Problem scan-unreadable, serial-unknown, serial-ambiguous, wrong-class, scan-part-mismatch
 */
export function recognise(plant: Plant, text: string, unitClass?: string): Recognised {
  const { serial } = readSerialScan(text);
  const isUnit = unitClass !== undefined || plant.units.withSerial(serial).length > 0;
  const order = isUnit ? undefined : plant.orders.byNumber(serial);
  return order ? anOrder(order) : aHalf(plant, resolveAnyUnit(plant, text, unitClass));
}

function anOrder(order: OrderRow): Recognised {
  return {
    is: 'order',
    name: order.number,
    part: null,
    partRevision: null,
    attributes: {},
    order: presentOrder(order),
    refusal: refusalOf(() => assertOrderOpen(order)),
  };
}

function aHalf(plant: Plant, unit: UnitRow): Recognised {
  if (!isHalf(unit.class)) {
    throw new Problem(
      'wrong-class',
      `${unit.serial} is a ${nameOfClass(unit.class)}; scan a powerhead, a lower unit or an order here.`,
      { serial: unit.serial, foundClass: unit.class },
    );
  }
  return {
    is: unit.class as 'powerhead' | 'lower-unit',
    name: unit.serial,
    part: unit.part,
    partRevision: unit.partRevision,
    attributes: unit.attributes,
    order: null,
    refusal: refusalOf(() => assertFree(plant, unit)),
  };
}

/** The problem that a check throws, as a caller is told it; null where it throws none. */
export function refusalOf(check: () => void): Recognised['refusal'] {
  try {
    check();
    return null;
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    const { type, title } = error.document() as { type: string; title: string };
    return { type, title, status: error.status, detail: error.message };
  }
}
