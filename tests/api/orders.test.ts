import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, order, refused, setMotor } from '../support/scenario.js';

describe('build orders', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const draft = (more: object = {}) => ({
    number: 'B-1',
    model: 'F100L',
    quantity: 3,
    dueOn: '2026-04-01',
    ...more,
  });
  const open = (more: object = {}) => plant.post('configuration', '/v1/orders', draft(more));

  it('opened are read back where their Location says, with priority 5 unless said', async () => {
    const answer = await open();
    expect(answer.status).toBe(201);
    const read = await plant.get('read', answer.headers.location ?? '');
    expect(read.body).toEqual(answer.body);
    expect(read.body).toMatchObject({
      number: 'B-1',
      model: 'F100L',
      quantity: 3,
      set: 0,
      dueOn: '2026-04-01',
      priority: 5,
      state: 'open',
      closedAt: null,
    });
  });

  it('are refused under a number that exists, or for a model that does not', async () => {
    const twice = await refused(plant, 'order-exists', () => open({ quantity: 9 }));
    expect(twice.detail).toBe('There is an order B-1 already.');
    expect((await plant.get('read', '/v1/orders/B-1')).body.quantity).toBe(3);
    const unknown = await refused(plant, 'model-unknown', () =>
      open({ number: 'B-2', model: 'X' }),
    );
    expect(unknown.detail).toBe('There is no model X.');
    await refused(plant, 'order-unknown', () => plant.get('read', '/v1/orders/B-2'));
  });

  it.each([
    ['no quantity', { quantity: 0 }, '/quantity'],
    ['half a motor', { quantity: 1.5 }, '/quantity'],
    ['a day that does not exist', { dueOn: '2026-02-30' }, '/dueOn'],
    ['a time in place of a day', { dueOn: '2026-04-01T00:00:00Z' }, '/dueOn'],
    ['a priority past 9', { priority: 10 }, '/priority'],
    ['a number that is an address', { number: 'next' }, '/number'],
    ['an unknown member', { customer: 'x' }, '/customer'],
  ])('with %s are refused at the member', async (_name, more, pointer) => {
    const problem = await refused(plant, 'request-invalid', () => open({ number: 'B-3', ...more }));
    expect(problem.errors).toMatchObject([{ pointer }]);
  });

  it('closed say why and when, and are closed once', async () => {
    const number = await order(plant, 2);
    const close = (reason: string) =>
      plant.post('quality', `/v1/orders/${number}/closure`, { reason });
    const answer = await close('Customer cancelled');
    expect(answer.body).toMatchObject({ state: 'closed', closeReason: 'Customer cancelled' });
    expect((await plant.get('read', `/v1/orders/${number}`)).body).toEqual(answer.body);
    const again = await refused(plant, 'order-closed', () => close('Again'));
    expect(again.detail).toBe(`Order ${number} was closed before: Customer cancelled`);
    await refused(plant, 'order-unknown', () =>
      plant.post('quality', '/v1/orders/O-GHOST/closure', { reason: 'x' }),
    );
  });

  it('that are complete may be closed, and a teardown still gives the place back', async () => {
    const made = await setMotor(plant);
    await plant.make('quality', `/v1/orders/${made.order}/closure`, { reason: 'Shipped' });
    await plant.make('repair', '/v1/teardowns', { motor: made.motor, reason: 'Returned' });
    const read = await plant.get('read', `/v1/orders/${made.order}`);
    expect(read.body).toMatchObject({ set: 0, state: 'closed' });
  });

  it('are listed by model and state, and as CSV', async () => {
    const all = (await plant.get('read', '/v1/orders?limit=1000')).body.items;
    const closed = (await plant.get('read', '/v1/orders?state=closed')).body.items;
    expect(closed.length).toBeGreaterThan(0);
    expect(closed).toEqual(all.filter((one: { state: string }) => one.state === 'closed'));
    expect((await plant.get('read', '/v1/orders?model=F75')).body.items).toEqual([]);
    const csv = await plant.get('read', '/v1/orders?limit=1000', {
      headers: { Accept: 'text/csv' },
    });
    const lines = csv.text.trimEnd().split('\r\n');
    expect(lines[0]).toBe(
      'number,model,quantity,set,dueOn,priority,state,openedAt,closedAt,closeReason',
    );
    expect(lines).toHaveLength(all.length + 1);
  });

  it('are opened and closed by those who plan, not by stations', async () => {
    const number = await order(plant);
    await refused(plant, 'forbidden', () => plant.post('set', '/v1/orders', draft()));
    await refused(plant, 'forbidden', () =>
      plant.post('cell', `/v1/orders/${number}/closure`, { reason: 'x' }),
    );
  });
});
