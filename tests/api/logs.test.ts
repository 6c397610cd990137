import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { enter, furnish } from '../support/scenario.js';
import { exchange, posting, secretOf } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

const entries = () => plant.logLines.map((line) => JSON.parse(line) as Record<string, unknown>);

describe('the request id', () => {
  it('is the caller’s where it is harmless', async () => {
    const id = randomUUID();
    const answer = await exchange(plant, {
      path: '/v1/nothing',
      as: 'read',
      headers: { 'X-Request-Id': id },
    });
    expect(answer.headers['x-request-id']).toBe(id);
    expect(entries().at(-1)).toMatchObject({ requestId: id, problem: 'route-unknown' });
  });

  it.each(['', 'two words', 'x'.repeat(65), '{"a":1}', '<script>', 'a,b'])(
    'is a new one where the caller’s is %j',
    async (id) => {
      const answer = await exchange(plant, {
        path: '/health/live',
        headers: { 'X-Request-Id': id },
      });
      // RFC 9562, 5.4: a random UUID.
      expect(answer.headers['x-request-id']).toMatch(/^[\da-f]{8}-[\da-f]{4}-4[\da-f]{3}-[89ab]/);
    },
  );

  it('is new for each request where the caller gives none', async () => {
    const ids = [];
    for (let i = 0; i < 3; i += 1) {
      ids.push((await exchange(plant, { path: '/health/live' })).headers['x-request-id']);
    }
    expect(new Set(ids).size).toBe(3);
  });
});

describe('the log', () => {
  it('holds no key, no token, no body and no query, whatever fails', async () => {
    const token = plant.tokens.get('set') ?? '';
    const marker = `marker-${randomUUID()}`;
    const issued = await plant.make<{ token: string }>('admin', '/v1/keys', {
      name: marker,
      roles: ['read'],
    });
    const powerhead = await enter(plant, 'powerhead');
    const requests = [
      posting('set', '/v1/holds', {
        class: 'powerhead',
        unit: powerhead,
        cause: 'x',
        reason: marker,
      }),
      posting('set', '/v1/holds', { marker }),
      posting('set', '/v1/holds', `{"${marker}"`),
      posting('set', `/v1/holds?${marker}=1`, {}),
      posting('read', '/v1/holds', { marker }),
      posting('set', '/v1/holds', marker.repeat(5000)),
      posting('set', '/v1/holds', { marker }, { 'Content-Type': 'text/plain' }),
      posting('set', '/v1/holds', {}, { 'Idempotency-Key': `${marker} x` }),
      { path: `/v1/units?class=${marker}%00`, as: 'read' },
      { path: '/v1/units', headers: { Authorization: `Bearer ${marker}` } },
      { path: '/v1/units', headers: { Authorization: `Bearer ${token}x` } },
      { path: '/v1/units', as: 'read', headers: { Accept: marker, Cookie: marker } },
    ];
    for (const sent of requests) await exchange(plant, sent);
    const text = plant.logLines.join('\n');
    expect(plant.logLines.length).toBeGreaterThanOrEqual(requests.length - 1);
    expect(text).not.toContain(marker);
    for (const one of [...plant.tokens.values(), issued.token]) {
      expect(text).not.toContain(secretOf(one));
    }
    expect(text).not.toMatch(/bearer |"authorization|cookie/i);
  });

  it('holds the cause of an error within, of which the caller is told nothing', async () => {
    const { store } = plant.service;
    const original = store.command;
    store.command = () => Promise.reject(new Error('the inside'));
    const body = { code: 'any', name: 'Any' };
    const answer = await exchange(plant, posting('configuration', '/v1/part-classes', body));
    store.command = original;
    expect(answer.status).toBe(500);
    expect(answer.body).toEqual({
      type: '/problems/internal-error',
      title: 'Something went wrong here',
      status: 500,
      detail: 'Something went wrong here; it is logged.',
    });
    const last = entries().at(-1);
    expect(last).toMatchObject({
      level: 50,
      requestId: answer.headers['x-request-id'],
      problem: 'internal-error',
      err: { message: 'the inside' },
    });
  });
});
