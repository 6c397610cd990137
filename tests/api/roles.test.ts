import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Role, role as roleShape } from '../../src/access/schema.js';
import type { Route } from '../../src/http/route.js';
import { routes } from '../../src/routes.js';
import { TestPlant } from '../support/plant.js';
import { exchange, type WireRequest } from '../support/wire.js';

const roles: readonly Role[] = roleShape.options;
const named = routes.map((route): [string, Route] => [
  `${route.method.toUpperCase()} ${route.path}`,
  route,
]);

/**
 * A request that the role check lets through only to be refused for its form: a command
 * has no Idempotency-Key, a question an unknown parameter or member.
 */
function probe(route: Route, as: string | undefined): WireRequest {
  const path = route.path.replaceAll(/\{\w+\}/g, '1');
  const method = route.method.toUpperCase();
  const who = as === undefined ? {} : { as };
  if (method === 'GET') return { path: `${path}?no-such-parameter=1`, ...who };
  const type = route.kind === 'import' ? 'text/csv' : 'application/json';
  const headers = { 'Content-Type': type, 'If-Match': '"v1"' };
  const body = '{"no-such-member":1}';
  return { method, path, headers, body, ...who };
}

describe('roles', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
  });
  afterAll(() => plant.stop());

  it.each(named)('%s takes the roles it lists, and no other', async (_name, route) => {
    const before = plant.eventCount();
    const taken: string[] = [];
    for (const role of roles) {
      const answer = await exchange(plant, probe(route, role));
      if (answer.status === 403) {
        expect(answer.body).toMatchObject({ type: '/problems/forbidden', roles: route.roles });
        continue;
      }
      expect(answer.status, answer.text).toBe(400);
      taken.push(role);
    }
    expect(taken).toEqual(
      roles.filter((one) => route.roles === 'any' || route.roles.includes(one)),
    );
    expect(plant.eventCount()).toBe(before);
  });

  it('no command is open to every key, least of all to one that may only read', () => {
    const commands = routes.filter((route) => route.act);
    expect(commands.filter((route) => route.roles === 'any')).toEqual([]);
    expect(commands.filter((route) => route.roles.includes('read'))).toEqual([]);
  });

  it('keys are issued, listed and revoked by administrators alone', () => {
    const keyRoutes = routes.filter((route) => route.path.startsWith('/v1/keys'));
    expect(keyRoutes.map((route) => route.roles)).toEqual(keyRoutes.map(() => ['admin']));
  });

  it('a key of several roles may do what each of them may', async () => {
    const answer = await plant.make<{ token: string }>('admin', '/v1/keys', {
      name: 'set and cell',
      roles: ['set', 'cell'],
    });
    plant.tokens.set('both', answer.token);
    const statuses = [];
    for (const path of ['/v1/sets', '/v1/runs', '/v1/releases']) {
      const headers = { 'Content-Type': 'application/json' };
      const sent = { method: 'POST', path, as: 'both', headers, body: '{}' };
      statuses.push((await exchange(plant, sent)).status);
    }
    expect(statuses).toEqual([400, 400, 403]);
  });
});

describe('without a key', () => {
  // Failed authentications are counted by address, so each batch has a plant of its own.
  const batches = Array.from({ length: Math.ceil(named.length / 25) }, (_, i) =>
    named.slice(i * 25, i * 25 + 25),
  );
  it.each(batches.map((batch, i): [number, typeof batch] => [i + 1, batch]))(
    'every route answers 401, whatever else is wrong (part %i)',
    async (_part, batch) => {
      const plant = await TestPlant.start();
      for (const [name, route] of batch) {
        const answer = await exchange(plant, probe(route, undefined));
        expect([name, answer.status, answer.body.type]).toEqual([
          name,
          401,
          '/problems/unauthenticated',
        ]);
      }
      expect(plant.eventCount()).toBe(0);
      await plant.stop();
    },
  );
});
