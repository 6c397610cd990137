import type { z } from 'zod';
import { existingModel } from '../catalogue/actions.js';
import type { ConfigurationRow } from '../catalogue/records.js';
import { conflictBetween } from '../catalogue/rules.js';
import type { Command } from '../command.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
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
  const model = plant.catalogue.modelById(order.modelId);
  const configurations = plant.catalogue.configurationsOfModel(order.modelId, now);
  if (configurations.length === 0) return `No configuration of model ${order.model} is in force.`;
  const reasons = new Set<string>();
  for (const configuration of configurations) {
    const wanted = { ...model?.attributes, ...configuration.attributes };
    const fits = (unit: UnitRow) => conflictBetween(wanted, unit.attributes) === undefined;
    const powerheads = plant.units
      .ready(configuration.powerheadNumber, configuration.powerheadRevision, LOOK_AT_UNITS)
      .filter(fits);
    const lowerUnits = plant.units
      .ready(configuration.lowerUnitNumber, configuration.lowerUnitRevision, LOOK_AT_UNITS)
      .filter(fits);
    if (powerheads.length > 0 && lowerUnits.length > 0) {
      const named = {
        powerheads: powerheads.slice(0, NAMED),
        lowerUnits: lowerUnits.slice(0, NAMED),
      };
      return { configuration, ...named };
    }
    if (powerheads.length === 0)
      reasons.add(`no powerhead ${configuration.powerheadNumber} is ready`);
    if (lowerUnits.length === 0)
      reasons.add(`no lower unit ${configuration.lowerUnitNumber} is ready`);
  }
  const text = [...reasons].join('; ');
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;
}
