import type { z } from 'zod';
import { existingModel } from '../catalogue/actions.js';
import type { ConfigurationRow } from '../catalogue/records.js';
import { conflictBetween } from '../catalogue/rules.js';
import type { Command } from '../command.js';
import { merged } from '../merged.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import { openHoldIn } from '../units/actions.js';
import type { UnitRow } from '../units/records.js';
import type { OrderRow } from './records.js';
import type { orderDraft } from './schema.js';

/** Orders looked through for something that can be built. */
const LOOK_THROUGH = 200;
/** Ready units looked through of each half, to find two that go together. */
const LOOK_AT_UNITS = 50;
/** Serials named to the station. */
const NAMED = 5;

/** Opens a build order. */
export function openOrder(command: Command, draft: z.output<typeof orderDraft>): OrderRow {
  const { plant } = command;
  const model = existingModel(plant, draft.model);
  if (plant.orders.byNumber(draft.number)) {
    throw new Problem('order-exists', `There is an order ${draft.number} already.`);
  }
  command.record('order.opened', {
    id: plant.orders.nextId(),
    number: draft.number,
    modelId: model.id,
    quantity: draft.quantity,
    dueOn: draft.dueOn,
    priority: draft.priority ?? 5,
  });
  return existingOrder(plant, draft.number);
}

/** Closes an order: nothing more is set for it. */
export function closeOrder(command: Command, number: string, reason: string): OrderRow {
  const { plant } = command;
  const order = existingOrder(plant, number);
  if (order.state === 'closed') {
    throw new Problem('order-closed', `Order ${number} was closed before: ${order.closeReason}`);
  }
  command.record('order.closed', { id: order.id, reason });
  return existingOrder(plant, number);
}

export function existingOrder(plant: Plant, number: string): OrderRow {
  const order = plant.orders.byNumber(number);
  if (!order) throw new Problem('order-unknown', `There is no order ${number}.`);
  return order;
}

export interface NextToBuild {
  order: OrderRow | null;
  configuration: ConfigurationRow | null;
  powerheads: UnitRow[];
  lowerUnits: UnitRow[];
  passedOver: { order: string; reason: string }[];
}

/**
 * What to build next: the most urgent open order (priority, then due date, then age)
 * for which a powerhead and a lower unit that go together are ready.
 */
export function nextToBuild(plant: Plant, now: number): NextToBuild {
  const passedOver: NextToBuild['passedOver'] = [];
  for (const order of plant.orders.toBuild(LOOK_THROUGH)) {
    const found = readyFor(plant, order, now);
    if (typeof found !== 'string') return { order, ...found, passedOver };
    passedOver.push({ order: order.number, reason: found });
  }
  return { order: null, configuration: null, powerheads: [], lowerUnits: [], passedOver };
}

type Ready = Omit<NextToBuild, 'order' | 'passedOver'>;

/** What is ready for an order, or why nothing is. */
function readyFor(plant: Plant, order: OrderRow, now: number): Ready | string {
  const configurations = plant.catalogue.configurationsOfModel(order.modelId, now);
  if (configurations.length === 0) return `No configuration of model ${order.model} is in force.`;
  const reasons = new Set<string>();
  for (const configuration of configurations) {
    const halves = halvesFor(plant, configuration);
    const matched = goingTogether(plant, halves);
    if (matched) return { configuration, ...matched };
    for (const reason of whyNone(configuration, halves)) reasons.add(reason);
  }
  const text = [...reasons].join('; ');
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}

type Halves = Pick<NextToBuild, 'powerheads' | 'lowerUnits'>;

/** Ready halves of the parts of a configuration with its fixed attributes, the oldest first. */
function halvesFor(plant: Plant, configuration: ConfigurationRow): Halves {
  const model = plant.catalogue.modelById(configuration.modelId);
  const wanted = merged(model?.attributes ?? {}, configuration.attributes);
  const ready = (number: string, revision: string | null) =>
    plant.units.ready({ part: number, revision, wanted, limit: LOOK_AT_UNITS });
  return {
    powerheads: ready(configuration.powerheadNumber, configuration.powerheadRevision),
    lowerUnits: ready(configuration.lowerUnitNumber, configuration.lowerUnitRevision),
  };
}

/**
 * The oldest powerhead that goes with any lower unit, and beside it only halves of which
 * each goes with each, so that the station may take any two of those named.
 */
function goingTogether(plant: Plant, halves: Halves): Halves | undefined {
  const goesWith = (a: UnitRow) => (b: UnitRow) =>
    conflictBetween(a.attributes, b.attributes) === undefined;
  const isFree = (unit: UnitRow) => openHoldIn(plant, unit.id) === undefined;
  for (const first of halves.powerheads) {
    if (!isFree(first)) continue;
    const lowerUnits = take(halves.lowerUnits.filter(goesWith(first)), isFree);
    if (lowerUnits.length === 0) continue;
    const fitsAll = (unit: UnitRow) => lowerUnits.every(goesWith(unit));
    return { powerheads: take(halves.powerheads.filter(fitsAll), isFree), lowerUnits };
  }
  return undefined;
}

/** The first of a list that are free, as many as are named; no more are looked at than that takes. */
function take(units: readonly UnitRow[], isFree: (unit: UnitRow) => boolean): UnitRow[] {
  const taken: UnitRow[] = [];
  for (const unit of units) {
    if (taken.length === NAMED) break;
    if (isFree(unit)) taken.push(unit);
  }
  return taken;
}

function whyNone(configuration: ConfigurationRow, { powerheads, lowerUnits }: Halves): string[] {
  const partOf = (number: string, revision: string | null) =>
    revision === null ? number : `${number} revision ${revision}`;
  const powerhead = partOf(configuration.powerheadNumber, configuration.powerheadRevision);
  const lowerUnit = partOf(configuration.lowerUnitNumber, configuration.lowerUnitRevision);
  const reasons = [
    powerheads.length === 0 ? `no powerhead ${powerhead} is ready` : '',
    lowerUnits.length === 0 ? `no lower unit ${lowerUnit} is ready` : '',
  ].filter((reason) => reason !== '');
  if (reasons.length > 0) return reasons;
  return [`no ready powerhead ${powerhead} goes with a ready lower unit ${lowerUnit}`];
}
