import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { START, TestPlant } from '../support/plant.js';
import {
  enter,
  furnish,
  order,
  setMotor,
  specificationDraft,
  unitDraft,
} from '../support/scenario.js';
import { exchange, posting, refused } from '../support/wire.js';

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;

let plant: TestPlant;
let motor: string;
let powerhead: string;
let lowerUnit: string;
let run: number;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
  motor = (await setMotor(plant)).motor;
  powerhead = await enter(plant, 'powerhead');
  lowerUnit = await enter(plant, 'lower-unit');
  const opened = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell: 'CELL-9' });
  run = opened.id;
});
afterAll(() => plant.stop());

const at = (ms: number) => new Date(plant.now + ms).toISOString();
const hold = (more: object) => ({
  class: 'powerhead',
  unit: powerhead,
  cause: 'quality',
  reason: 'Scratched',
  ...more,
});

describe('the time of a happening', () => {
  it('is refused more than two minutes ahead of the server', async () => {
    for (const ahead of [2 * MINUTE + 1, DAY, 10_000 * DAY]) {
      const sent = posting('set', '/v1/holds', hold({ occurredAt: at(ahead) }));
      await refused(plant, sent, 422, 'time-in-future');
    }
    const sent = posting('set', '/v1/units', unitDraft('powerhead', { occurredAt: at(DAY) }));
    await refused(plant, sent, 422, 'time-in-future');
  });

  it('is refused more than 31 days back', async () => {
    for (const back of [31 * DAY + 1, 400 * DAY, START + DAY]) {
      const sent = posting('set', '/v1/holds', hold({ occurredAt: at(-back) }));
      await refused(plant, sent, 422, 'time-too-old');
    }
  });

  it('is taken as now where the caller’s clock runs ahead by two minutes at most', async () => {
    const sent = posting('set', '/v1/holds', hold({ occurredAt: at(2 * MINUTE) }));
    const answer = await exchange(plant, sent);
    expect(answer.status, answer.text).toBe(201);
    expect(answer.body.placedAt).toBe(at(0));
    const lift = posting('quality', `/v1/holds/${answer.body.id}/lift`, { reason: 'Polished' });
    expect((await exchange(plant, lift)).status).toBe(200);
  });
});

describe('a serial where another class belongs', () => {
  it('is refused by class on a hold, an inspection and a set', async () => {
    const cases: [string, string, object][] = [
      ['set', '/v1/holds', hold({ unit: lowerUnit })],
      ['set', '/v1/inspections', { class: 'lower-unit', unit: powerhead, result: 'accepted' }],
      ['cell', '/v1/runs', { motor: powerhead, cell: 'CELL-1' }],
    ];
    for (const [as, path, body] of cases) {
      const answer = await refused(plant, posting(as, path, body), 409, 'wrong-class');
      expect(answer.body.detail).toContain('scan the');
    }
  });

  it('is refused on a release question as well', async () => {
    const path = `/v1/release-gate?motor=${powerhead}`;
    await refused(plant, { path, as: 'read' }, 409, 'wrong-class');
  });

  it('is not known at all where nobody entered it', async () => {
    const sent = posting('set', '/v1/holds', hold({ unit: 'NOBODY-1' }));
    await refused(plant, sent, 404, 'serial-unknown');
    await refused(
      plant,
      { path: '/v1/history?serial=NOBODY-1', as: 'read' },
      404,
      'serial-unknown',
    );
  });

  it.each(['\u001d', '~', '[)>\u001e06\u001d', 'https://', '(01)'])(
    'is unreadable as %j',
    async (unit) => {
      await refused(plant, posting('set', '/v1/holds', hold({ unit })), 422, 'scan-unreadable');
    },
  );

  it('is an unknown class where nobody named one so', async () => {
    const draft = unitDraft('powerhead', { class: 'gearbox' });
    const sent = posting('set', '/v1/units', draft);
    await refused(plant, sent, 404, 'part-class-unknown');
  });
});

describe('readings', () => {
  const batch = (readings: unknown[], more: object = {}) => ({ sequence: 1, readings, ...more });
  const path = () => `/v1/runs/${run}/batches`;
  const idle = (more: object) => ({ code: 'idle-speed', value: 650, ...more });

  it('of more than ten thousand are refused, and none is kept', async () => {
    const many = Array.from({ length: 10_001 }, () => idle({}));
    const sent = posting('cell', path(), batch(many));
    const answer = await refused(plant, sent, 400, 'request-invalid');
    expect(answer.body.errors).toMatchObject([{ pointer: '/readings' }]);
    const detail = await plant.get('read', `/v1/runs/${run}`);
    expect(detail.body.readings).toEqual([]);
  });

  it.each([
    ['in a unit of another quantity', { unit: 'kPa' }],
    ['in a unit that does not exist', { unit: 'blorg' }],
    ['of a characteristic that the specification does not have', { code: 'oil-colour' }],
    ['yes or no where a number is measured', { value: true }],
  ])('are refused %s, the good ones of the batch with them', async (_name, more) => {
    const readings = [{ code: 'telltale', value: true }, idle(more)];
    const sent = posting('cell', path(), batch(readings));
    const answer = await refused(plant, sent, 422, 'reading-invalid');
    const [fault] = answer.body.errors as { pointer: string }[];
    expect(fault?.pointer).toMatch(/^\/readings\/1/);
    const detail = await plant.get('read', `/v1/runs/${run}`);
    expect(detail.body.readings).toEqual([]);
  });

  it.each(['"650"', 'null', '1e999', '[650]', '{}'])('have no value %s', async (value) => {
    const text = `{"sequence":1,"readings":[{"code":"idle-speed","value":${value}}]}`;
    await refused(plant, posting('cell', path(), text), 400, 'request-invalid');
  });

  it.each([0, -1, 1.5, 10_001, '1', null])('have no batch number %j', async (sequence) => {
    const sent = posting('cell', path(), batch([idle({})], { sequence }));
    await refused(plant, sent, 400, 'request-invalid');
  });
});

describe('drafts and orders', () => {
  it('a specification in a unit that is none is refused', async () => {
    const text = JSON.stringify(specificationDraft()).replace('"kPa"', '"blorg"');
    const sent = posting('quality', '/v1/specifications', text);
    const answer = await refused(plant, sent, 422, 'specification-faulty');
    expect(answer.body.errors).toMatchObject([{ pointer: '/prompts/0/characteristics/1/unit' }]);
  });

  it.each([0, -1, 1.5, '3', 1e9])('an order is not for %j motors', async (quantity) => {
    const body = { number: 'O-BAD', model: 'F100L', quantity, dueOn: '2026-03-10' };
    const sent = posting('configuration', '/v1/orders', body);
    await refused(plant, sent, 400, 'request-invalid');
  });

  it.each(['2026-02-30', '10.03.2026', '2026-3-1', '2026-03-10T00:00:00Z'])(
    'an order is not due on %s',
    async (dueOn) => {
      const body = { number: 'O-BAD', model: 'F100L', quantity: 1, dueOn };
      const sent = posting('configuration', '/v1/orders', body);
      await refused(plant, sent, 400, 'request-invalid');
    },
  );

  it('an order is opened once', async () => {
    const number = await order(plant);
    const body = { number, model: 'F100L', quantity: 1, dueOn: '2026-03-10' };
    await refused(plant, posting('configuration', '/v1/orders', body), 409, 'order-exists');
  });
});
