import { createHash } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { type Drawn, engineFamily, setMotors } from '../support/emissions.js';
import { TestPlant } from '../support/plant.js';
import { failing, furnish, refused, runMotor } from '../support/scenario.js';
import { waitUntil } from '../support/shipped.js';

const family = '/v1/engine-families/TBM26-F100';
const draws = `${family}/draws`;
const sha256 = (text: string) => createHash('sha256').update(text).digest('hex');

describe('draws of engines', () => {
  let plant: TestPlant;
  let motors: string[];
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('quality', '/v1/engine-families', engineFamily());
    motors = await setMotors(plant, 12);
  });
  afterAll(() => plant.stop());

  const make = (body: object) => plant.make<Drawn>('quality', draws, body);
  const populationOf = async (id: number) =>
    (await plant.get('read', `${draws}/${id}/population`)).body.items as {
      motor: string;
      ticket: string;
      drawn: boolean;
    }[];

  it('are repeated from the recorded seed and population by any SHA-256 tool', async () => {
    const answer = await plant.post('quality', draws, { count: 5 });
    expect(answer.status).toBe(201);
    const { id, seed, drawn, populationDigest } = answer.body as Drawn;
    expect(answer.body).toMatchObject({
      family: 'TBM26-F100',
      revision: 1,
      period: 1,
      fromDay: '2026-03-01',
      untilDay: '2026-06-08',
      placedBy: 'set',
      withReleased: true,
      population: 12,
      leftOut: 0,
      aid: expect.stringContaining('aid'),
    });
    expect(seed).toMatch(/^[0-9a-f]{64}$/);
    expect(populationDigest).toBe(sha256(motors.map((one) => `${one}\n`).join('')));
    const byTicket = motors.toSorted((a, b) =>
      sha256(`${seed}\n${a}`) < sha256(`${seed}\n${b}`) ? -1 : 1,
    );
    expect(drawn.map((one) => one.motor)).toEqual(byTicket.slice(0, 5));
    expect(drawn[0]?.link).toBe(`/v1/history?serial=${byTicket[0]}&class=motor`);
    const detail = await plant.get('read', answer.headers.location ?? '');
    expect(detail.body).toMatchObject({ ...answer.body, digestRepeats: true, drawRepeats: true });
    const population = await populationOf(id);
    expect(population.map((one) => one.motor)).toEqual(byTicket);
    expect(population.map((one) => one.ticket)).toEqual(
      byTicket.map((motor) => sha256(`${seed}\n${motor}`)),
    );
    expect(population.map((one) => one.drawn)).toEqual(byTicket.map((_, at) => at < 5));
  });

  it('give another seed each, and leave out what was drawn before', async () => {
    const second = await make({ count: 3 });
    const { items } = (await plant.get('read', draws)).body as { items: Drawn[] };
    const [first] = items;
    expect(second).toMatchObject({ population: 7, leftOut: 5 });
    expect(second.seed).not.toBe(first?.seed);
    const both = items.flatMap((one) => one.drawn.map(({ motor }) => motor));
    expect(new Set(both).size).toBe(8);
    const csv = await plant.get('read', `${draws}/${second.id}/population`, {
      headers: { Accept: 'text/csv' },
    });
    expect(csv.text.trim().split('\r\n')).toHaveLength(8);
  });

  it('leave out motors torn down or scrapped', async () => {
    const [tornDown = '', scrapped = ''] = await setMotors(plant, 2);
    await plant.make('repair', '/v1/teardowns', { motor: tornDown, reason: 'Wrong order' });
    await runMotor(plant, scrapped, failing);
    const disposition = { class: 'motor', unit: scrapped, kind: 'scrap', reason: 'Cracked' };
    await plant.make('quality', '/v1/dispositions', disposition);
    const { id, population } = await make({ count: 1 });
    expect(population).toBe(4);
    const serials = (await populationOf(id)).map((one) => one.motor);
    expect(serials).not.toContain(tornDown);
    expect(serials).not.toContain(scrapped);
  });

  it('are from the motors placed in the period by their set or their first pass', async () => {
    // Set in the first period, passed in the second, and passed again.
    const [late = ''] = await setMotors(plant, 1);
    waitUntil(plant, '2026-06-09T08:00:00Z');
    await runMotor(plant, late);
    await plant.make('quality', '/v1/retests', { motor: late, reason: 'Doubted' });
    await runMotor(plant, late);
    // Set and released in the second.
    const [shipped = ''] = await setMotors(plant, 1);
    await runMotor(plant, shipped);
    await plant.make('quality', '/v1/releases', { motors: [shipped] });
    const problem = await refused(plant, 'too-few-engines', () =>
      plant.post('quality', draws, { count: 1, withReleased: false }),
    );
    expect(problem).toMatchObject({ status: 409, population: 0, leftOut: 0 });
    const bySet = await make({ count: 1 });
    expect(bySet).toMatchObject({ period: 2, population: 1, drawn: [{ motor: shipped }] });
    const byPass = await make({ count: 1, placedBy: 'pass' });
    expect(byPass).toMatchObject({ population: 1, leftOut: 1, drawn: [{ motor: late }] });
    const earlier = await make({ count: 1, period: 1 });
    expect(earlier).toMatchObject({ period: 1, untilDay: '2026-06-08', population: 3 });
  });

  it('keep their population, whatever becomes of it', async () => {
    const { id } = await make({ count: 1, period: 1 });
    const before = await populationOf(id);
    const [gone = ''] = before.map((one) => one.motor);
    await plant.make('repair', '/v1/teardowns', { motor: gone, reason: 'Wrong order' });
    expect(await populationOf(id)).toEqual(before);
    const { body } = await plant.get('read', `${draws}/${id}`);
    expect(body).toMatchObject({ digestRepeats: true, drawRepeats: true });
  });

  it('stand in the timeline of the engines drawn', async () => {
    const [first] = (await plant.get('read', draws)).body.items as Drawn[];
    const { body } = await plant.get('read', `/v1/history?serial=${first?.drawn[0]?.motor}`);
    expect(body.timeline).toContainEqual(
      expect.objectContaining({
        kind: 'engines.drawn',
        text: 'Drawn for emission testing of engine family TBM26-F100, test period 1, draw 1',
      }),
    );
  });

  it.each([
    ['more than there are', { count: 50 }, 'too-few-engines'],
    ['a period that the family has not', { count: 1, period: 3 }, 'test-period-unknown'],
    ['none', { count: 0 }, 'request-invalid'],
    ['too many at once', { count: 101 }, 'request-invalid'],
    ['half of one', { count: 1.5 }, 'request-invalid'],
    ['a seed of one’s own', { count: 1, seed: 'mine' }, 'request-invalid'],
    ['a place of no kind', { count: 1, placedBy: 'release' }, 'request-invalid'],
  ])('for %s are refused, and draw nothing', async (_what, body, slug) => {
    await refused(plant, slug, () => plant.post('quality', draws, body));
  });

  it('want the role, a period of today or one said, and are known by number', async () => {
    expect((await plant.post('cell', draws, { count: 1 })).status).toBe(403);
    waitUntil(plant, '2026-09-17T08:00:00Z');
    await refused(plant, 'test-period-unknown', () => plant.post('quality', draws, { count: 1 }));
    for (const tail of ['', '/population']) {
      const answer = await plant.get('read', `${draws}/99${tail}`);
      expect(answer.body.type).toBe('/problems/engine-draw-unknown');
    }
  });

  it('once repeated by the same key draw once', async () => {
    const headers = { 'Idempotency-Key': 'draw-once' };
    const body = { count: 1, period: 1 };
    const once = await plant.post('quality', draws, body, { headers });
    const events = plant.eventCount();
    const twice = await plant.post('quality', draws, body, { headers });
    expect(twice.body).toEqual(once.body);
    expect(plant.eventCount()).toBe(events);
  });

  it('leave a journal from which every draw is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
