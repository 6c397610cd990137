import { randomBytes } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FAILED_ATTEMPTS_A_MINUTE } from '../../src/app.js';
import { START, TestPlant } from '../support/plant.js';
import { exchange, posting, refused, secretOf } from '../support/wire.js';

const HOUR = 60 * 60 * 1000;

interface Issued {
  key: { id: number; name: string; roles: string[]; expiresAt: string | null };
  token: string;
}

describe('keys', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
  });
  afterAll(() => plant.stop());

  /** Issues a key and carries it under its name. */
  async function issue(name: string, more: object = {}): Promise<Issued> {
    const issued = await plant.make<Issued>('admin', '/v1/keys', {
      name,
      roles: ['read'],
      ...more,
    });
    plant.tokens.set(name, issued.token);
    return issued;
  }
  const ask = async (as: string) => (await exchange(plant, { path: '/v1/units', as })).status;

  it('a key is issued with its token, works at once and is listed without a secret', async () => {
    const { key, token } = await issue('line 1');
    // 256 random bits are 43 characters of base64url (RFC 4648, 5).
    expect(token).toMatch(/^skeg_\d+_[\w-]{43}$/);
    expect(await ask('line 1')).toBe(200);
    const list = await plant.get('admin', '/v1/keys?limit=1000');
    expect(list.body.items.at(-1)).toEqual(key);
    expect(list.text).not.toContain(secretOf(token));
    expect(list.text).not.toMatch(/hash|secret|token/i);
  });

  it('no two tokens are alike', async () => {
    const tokens = [];
    for (const name of ['a', 'b', 'c']) tokens.push(secretOf((await issue(name)).token));
    expect(new Set(tokens).size).toBe(3);
  });

  it('a name is taken once, also after its key was revoked', async () => {
    const { key } = await issue('leaver');
    await plant.make('admin', `/v1/keys/${key.id}/revocation`, {});
    const sent = posting('admin', '/v1/keys', { name: 'leaver', roles: ['read'] });
    await refused(plant, sent, 409, 'key-name-taken');
  });

  it('roles that come twice count once', async () => {
    const { key } = await issue('doubled', { roles: ['set', 'set', 'cell'] });
    expect(key.roles).toEqual(['set', 'cell']);
  });

  it.each([[[]], [['root']], [['admin', null]], ['admin'], [['ADMIN']]])(
    'roles are not %j',
    async (roles) => {
      await refused(
        plant,
        posting('admin', '/v1/keys', { name: 'x', roles }),
        400,
        'request-invalid',
      );
    },
  );

  it('a key cannot be issued expired', async () => {
    for (const ms of [0, plant.now - 1, plant.now]) {
      const body = { name: 'late', roles: ['read'], expiresAt: new Date(ms).toISOString() };
      const answer = await refused(
        plant,
        posting('admin', '/v1/keys', body),
        400,
        'request-invalid',
      );
      expect(answer.body.errors).toMatchObject([{ pointer: '/expiresAt' }]);
    }
  });

  it('a revoked key is refused from then on, and revoking it again changes nothing', async () => {
    const { key } = await issue('to revoke');
    const address = `/v1/keys/${key.id}/revocation`;
    const first = await plant.post('admin', address, {});
    expect(first.body.revokedAt).toBe(new Date(plant.now).toISOString());
    await refused(plant, { path: '/v1/units', as: 'to revoke' }, 401, 'unauthenticated');
    const before = plant.eventCount();
    plant.wait(1000);
    const second = await plant.post('admin', address, {});
    expect(second.body).toEqual(first.body);
    expect(plant.eventCount()).toBe(before);
  });

  it('a key is revoked although the clock was put back', async () => {
    const { key } = await issue('clock');
    plant.wait(-HOUR);
    const answer = await plant.post('admin', `/v1/keys/${key.id}/revocation`, {});
    plant.wait(HOUR);
    expect(answer.status).toBe(200);
    await refused(plant, { path: '/v1/units', as: 'clock' }, 401, 'unauthenticated');
  });

  it('a key that is not there cannot be revoked, nor can one revoke itself', async () => {
    const unknown = posting('admin', '/v1/keys/999999/revocation', {});
    await refused(plant, unknown, 404, 'key-unknown');
    const list = await plant.get('admin', '/v1/keys?limit=1000');
    const own = (list.body.items as Issued['key'][]).find((one) => one.name === 'admin key');
    await refused(plant, posting('admin', `/v1/keys/${own?.id}/revocation`, {}), 409, 'key-is-own');
  });

  it('issuing and revoking stand in the journal without name, hash or token', async () => {
    const { key, token } = await issue('journalled');
    await plant.make('admin', `/v1/keys/${key.id}/revocation`, {});
    const events = await plant.get('read', '/v1/events?limit=1000');
    const kinds = (events.body.items as { kind: string }[]).map((one) => one.kind);
    expect(kinds.slice(-2)).toEqual(['key.issued', 'key.revoked']);
    const rows = plant.service.store.reading.journal.after(0, 10_000);
    const text = rows.map((row) => row.content).join();
    expect(text).not.toContain('journalled');
    expect(text).not.toContain(secretOf(token));
  });

  it('an expired key is refused from the very instant it expires', async () => {
    const expiresAt = new Date(plant.now + HOUR).toISOString();
    await issue('shift', { expiresAt });
    plant.wait(HOUR - 1);
    expect(await ask('shift')).toBe(200);
    plant.wait(1);
    await refused(plant, { path: '/v1/units', as: 'shift' }, 401, 'unauthenticated');
  });
});

describe('an Authorization header that proves nothing', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
  });
  afterAll(() => plant.stop());

  it('is answered with 401 and how to authenticate', async () => {
    const token = plant.tokens.get('read') ?? '';
    const secret = secretOf(token);
    const id = token.slice('skeg_'.length, -secret.length - 1);
    const wrong = randomBytes(32).toString('base64url');
    const attempts = [
      '',
      'Bearer',
      'Bearer ',
      `Basic ${Buffer.from(`read:${token}`).toString('base64')}`,
      token,
      `Token ${token}`,
      `Bearer skeg_${id}_${wrong}`,
      `Bearer skeg_${Number(id) + 1}_${secret}`,
      `Bearer skeg_999999999999999_${secret}`,
      `Bearer skeg_${id}_${secret.slice(1)}`,
      `Bearer skeg_${id}_${secret}A`,
      `Bearer skeg_${id}_${secret.toLowerCase()}x`.slice(0, -1),
      `Bearer ${token}, Bearer ${token}`,
      `Bearer skeg_-1_${secret}`,
      `Bearer skeg_1e0_${secret}`,
      `Bearer ${'x'.repeat(5000)}`,
    ];
    for (const Authorization of attempts) {
      const sent = { path: '/v1/units', headers: { Authorization } };
      const answer = await refused(plant, sent, 401, 'unauthenticated');
      expect(answer.headers['www-authenticate']).toBe('Bearer realm="skeg"');
    }
    const bearer = { path: '/v1/units', headers: { Authorization: `bEARER ${token}` } };
    expect((await exchange(plant, bearer)).status).toBe(200);
  });
});

describe('failed authentications of one address', () => {
  it('are turned away past the limit while a valid key still works from there', async () => {
    const plant = await TestPlant.start();
    const attempt = () =>
      exchange(plant, { path: '/v1/units', headers: { Authorization: 'Bearer wrong' } });
    for (let i = 0; i < FAILED_ATTEMPTS_A_MINUTE; i += 1) {
      expect((await attempt()).status).toBe(401);
    }
    const turnedAway = await attempt();
    expect(turnedAway.status).toBe(429);
    expect(turnedAway.body.type).toBe('/problems/too-many-requests');
    expect(Number(turnedAway.headers['retry-after'])).toBeGreaterThan(0);
    expect(Number(turnedAway.headers['retry-after'])).toBeLessThanOrEqual(60);
    // A caller cannot choose its own address while no proxy is trusted.
    const pretending = await exchange(plant, {
      path: '/v1/units',
      headers: { Authorization: 'Bearer wrong', 'X-Forwarded-For': '192.0.2.7' },
    });
    expect(pretending.status).toBe(429);
    expect((await exchange(plant, { path: '/v1/units', as: 'read' })).status).toBe(200);
    await plant.make('admin', '/v1/keys', { name: 'still issued', roles: ['read'] });
    expect(plant.eventCount()).toBe(1);
    expect(plant.now).toBe(START);
    await plant.stop();
  });
});
