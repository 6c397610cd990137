import { pageById } from '../http/cursor.js';
import { command, question, table } from '../http/route.js';
import type { UnitRow } from '../units/records.js';
import { closeOrder, existingOrder, nextToBuild, openOrder } from './actions.js';
import {
  closeDraft,
  nextShape,
  orderDraft,
  orderPage,
  orderParams,
  orderQuery,
  orderShape,
  presentOrder,
} from './schema.js';

const tag = 'Orders';

const candidate = (unit: UnitRow) => ({
  serial: unit.serial,
  part: unit.part ?? '',
  partRevision: unit.partRevision ?? '',
});

export const orderRoutes = [
  command({
    path: '/v1/orders',
    tag,
    summary: 'Open a build order',
    roles: ['configuration', 'quality'],
    body: orderDraft,
    answer: orderShape,
    problems: ['model-unknown', 'order-exists'],
    act: (context, { body }) => {
      const order = openOrder(context, body);
      return {
        body: presentOrder(order),
        location: `/v1/orders/${encodeURIComponent(order.number)}`,
      };
    },
  }),
  table({
    path: '/v1/orders',
    tag,
    summary: 'Build orders',
    query: orderQuery,
    item: orderShape,
    answer: orderPage,
    ask: (plant, { query }) => {
      const filter = { model: query.model ?? null, state: query.state ?? null };
      return pageById(
        query,
        (after, limit) => plant.orders.list(filter, after, limit),
        presentOrder,
      );
    },
  }),
  question({
    path: '/v1/orders/next',
    tag,
    summary: 'What a station should build next',
    description:
      'The most urgent open order (priority, then due date, then age) for which a powerhead and a lower unit that go together are ready; more urgent ones that are not are named with the reason.',
    answer: nextShape,
    ask: (plant, _input, { now }) => {
      const { order, configuration, powerheads, lowerUnits, passedOver } = nextToBuild(plant, now);
      return {
        order: order && presentOrder(order),
        remaining: order ? order.quantity - order.setCount : 0,
        configuration: configuration?.code ?? null,
        powerheads: powerheads.map(candidate),
        lowerUnits: lowerUnits.map(candidate),
        passedOver,
      };
    },
  }),
  question({
    path: '/v1/orders/{order}',
    tag,
    summary: 'One build order',
    params: orderParams,
    answer: orderShape,
    problems: ['order-unknown'],
    ask: (plant, { params }) => presentOrder(existingOrder(plant, params.order)),
  }),
  command({
    path: '/v1/orders/{order}/closure',
    tag,
    summary: 'Close an order: nothing more is set for it',
    roles: ['configuration', 'quality'],
    status: 200,
    params: orderParams,
    body: closeDraft,
    answer: orderShape,
    problems: ['order-unknown', 'order-closed'],
    act: (context, { params, body }) => ({
      body: presentOrder(closeOrder(context, params.order, body.reason)),
    }),
  }),
];
