import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { role as roleShape } from '../../src/access/schema.js';
import { type Operation, operations } from '../fuzz/support/operations.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, setMotor } from '../support/scenario.js';
import { exchange, posting, refused, type WireRequest } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

const named = operations.map((one): [string, Operation] => [one.name, one]);
const pathOf = ({ path }: Operation) => path.replaceAll(/\{\w+\}/g, '1');

/** Well-formed but for one thing, so that it is refused for its form once its sender may send it. */
function probe(operation: Operation): WireRequest {
  const path = pathOf(operation);
  if (operation.method === 'get') return { path: `${path}?no-such-parameter=1` };
  const headers = { 'Content-Type': operation.body?.media ?? '', 'If-Match': '"v1"' };
  const body = '{"no-such-member":1}';
  return { method: operation.method.toUpperCase(), path, headers, body };
}

describe('who may do what (API1, API5)', () => {
  it.each(named)('%s takes the roles that the document names, each alone', async (_, operation) => {
    const taken: string[] = [];
    for (const role of roleShape.options) {
      const { status, body } = await exchange(plant, { ...probe(operation), as: role });
      expect([400, 403], JSON.stringify(body)).toContain(status);
      if (status === 400) taken.push(role);
    }
    const able = roleShape.options.filter(
      (role) => operation.roles === 'any' || operation.roles.includes(role),
    );
    expect(taken).toEqual(able);
  });

  it('whoever has no key gets to know nothing, not even which addresses there are', async () => {
    const answers = new Set<string>();
    const before = plant.eventCount();
    const unknown: WireRequest = { path: '/v1/no-such-address' };
    for (const sent of [...operations.map(probe), unknown]) {
      const { status, body } = await exchange(plant, sent);
      expect([401, 429]).toContain(status);
      const { type, title, detail, ...more } = body;
      answers.add(JSON.stringify({ status, type, title, detail, more }));
    }
    // One answer for every address, and one more once there were too many attempts.
    expect(answers.size).toBe(2);
    expect(plant.eventCount()).toBe(before);
  });

  it('a refusal by role comes before anything is told of what was asked for', async () => {
    const { motor } = await setMotor(plant);
    const runs = ['/v1/runs/1/abort', '/v1/runs/999999/abort'];
    const answers = runs.map((path) => exchange(plant, posting('read', path, { reason: 'x' })));
    const [there, nowhere] = (await Promise.all(answers)).map(({ body }) => JSON.stringify(body));
    expect(there).toBe(nowhere);
    expect(there).not.toContain(motor);
  });

  it('roles are those of the key, whatever a request says of itself', async () => {
    const claims = {
      'X-Role': 'admin',
      'X-User': '1',
      Role: 'admin',
      'X-Original-URL': '/v1/keys',
    };
    await refused(plant, { path: '/v1/keys', as: 'read', headers: claims }, 403, 'forbidden');
    const override = { ...claims, 'X-HTTP-Method-Override': 'POST' };
    const sent = posting('read', '/v1/keys', { name: 'x', roles: ['admin'] }, override);
    await refused(plant, sent, 403, 'forbidden');
  });
});

describe('objects (API1)', () => {
  /** Every key may see every unit: one plant, no tenants. What is a key's own is its stored answers. */
  it('a key does not get the answer that another key’s Idempotency-Key stored', async () => {
    const unit = await enter(plant, 'powerhead');
    const hold = { class: 'powerhead', unit, cause: 'quality', reason: 'Mine' };
    const key = { 'Idempotency-Key': randomUUID() };
    const first = await exchange(plant, posting('set', '/v1/holds', hold, key));
    const other = await exchange(plant, posting('repair', '/v1/holds', hold, key));
    expect(other.headers['idempotency-replayed']).toBeUndefined();
    expect(other.body.id).not.toBe(first.body.id);
    expect(other.body.placedBy).toBe('repair key');
  });

  it('a key’s token is not in the answer that its Idempotency-Key stored', async () => {
    const key = { 'Idempotency-Key': randomUUID() };
    const draft = { name: 'shown once', roles: ['read'] };
    const first = await exchange(plant, posting('admin', '/v1/keys', draft, key));
    const again = await exchange(plant, posting('admin', '/v1/keys', draft, key));
    expect(first.body.token).toMatch(/^skeg_/);
    expect(again.body.token).toBeNull();
  });
});

describe('flows that one person alone must not go through (API6)', () => {
  it('whoever drafted a revision cannot approve it, by whatever role', async () => {
    const { token } = await plant.make<{ token: string }>('admin', '/v1/keys', {
      name: 'owner of everything',
      roles: ['configuration', 'quality'],
    });
    plant.tokens.set('everything', token);
    const terms = { model: 'F100L', powerheadNumber: 'PH-100', lowerUnitNumber: 'LU-25' };
    const draft = { ...terms, code: 'F100L-OWN' };
    const { id } = await plant.make<{ id: number }>('everything', '/v1/configurations', draft);
    const approval = posting('everything', `/v1/configurations/${id}/approval`, {});
    await refused(plant, approval, 403, 'approval-by-author');
  });

  it('a key issues no other key, unless it is an administrator’s', async () => {
    const draft = { name: 'friend', roles: ['quality'] };
    for (const role of roleShape.options.filter((one) => one !== 'admin')) {
      await refused(plant, posting(role, '/v1/keys', draft), 403, 'forbidden');
    }
  });
});
