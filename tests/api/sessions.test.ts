import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import BetterSqlite3 from 'better-sqlite3';
import { pino } from 'pino';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { SESSION_IDLE_MS } from '../../src/access/session-actions.js';
import { FAILED_ATTEMPTS_A_MINUTE } from '../../src/app.js';
import { verifyDatabase } from '../../src/journal/verify.js';
import { firstKey, startService } from '../../src/service.js';
import { START, settings, TestPlant } from '../support/plant.js';
import { enter, furnish, order } from '../support/scenario.js';
import { commandHeaders, exchange, portOf, secretOf, type WireAnswer } from '../support/wire.js';

const FORM = { 'Content-Type': 'application/x-www-form-urlencoded' };
const OWN = { 'Sec-Fetch-Site': 'same-origin' };
const COOKIE = 'skeg-session';

/** Sends the sign-in form as a browser would. */
function trySignIn(
  plant: TestPlant,
  token: string,
  more: { to?: string; headers?: Record<string, string> } = {},
): Promise<WireAnswer> {
  const body = new URLSearchParams({ token, to: more.to ?? '/' }).toString();
  const headers = { ...FORM, ...OWN, ...more.headers };
  return exchange(plant, { method: 'POST', path: '/sign-in', headers, body });
}

/** What a browser would send back of a Set-Cookie header: name and value. */
function cookieOf(answer: WireAnswer): string {
  const [cookie = ''] = answer.headers['set-cookie'] ?? [];
  return cookie.split(';')[0] ?? '';
}

/** Signs in with the plant's key of a role and returns the cookie. */
async function cookieFor(plant: TestPlant, role: string): Promise<string> {
  const answer = await trySignIn(plant, plant.tokens.get(role) ?? '');
  expect(answer.status, answer.text).toBe(303);
  return cookieOf(answer);
}

const askWith = (plant: TestPlant, Cookie: string) =>
  exchange(plant, { path: '/v1/units', headers: { Cookie } });

describe('a session', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('is a cookie that scripts cannot read and other sites cannot send', async () => {
    const answer = await trySignIn(plant, plant.tokens.get('set') ?? '');
    expect(answer.status).toBe(303);
    expect(answer.headers.location).toBe('/');
    const [cookie = ''] = answer.headers['set-cookie'] ?? [];
    const [pair, ...terms] = cookie.split('; ');
    // 256 random bits are 43 characters of base64url (RFC 4648, 5).
    expect(pair).toMatch(/^skeg-session=[\w-]{43}$/);
    // Neither Max-Age nor Expires: it goes when the browser does. No Secure on plain HTTP.
    expect(terms.sort()).toEqual(['HttpOnly', 'Path=/', 'SameSite=Strict']);
  });

  it('is kept only as the SHA-256 of its id', async () => {
    const id = (await cookieFor(plant, 'set')).replace(`${COOKIE}=`, '');
    const db = new BetterSqlite3(plant.service.store.path, { readonly: true });
    const hashes = db.prepare<[], { id_hash: Buffer }>('SELECT id_hash FROM sessions').all();
    db.close();
    const own = createHash('sha256').update(id).digest();
    expect(hashes.filter((row) => row.id_hash.equals(own))).toHaveLength(1);
    expect(readFileSync(plant.service.store.path).includes(id)).toBe(false);
    expect(plant.logLines.join('')).not.toContain(id);
  });

  it('asks with the roles of its key, and with no more', async () => {
    const cookie = await cookieFor(plant, 'cell');
    expect((await askWith(plant, cookie)).status).toBe(200);
    const denied = await exchange(plant, { path: '/v1/keys', headers: { Cookie: cookie } });
    expect([denied.status, denied.body.type]).toEqual([403, '/problems/forbidden']);
    const mixed = `theme=dark; ${cookie}; other=1`;
    expect((await askWith(plant, mixed)).status).toBe(200);
  });

  it('counts for nothing beside a bearer token, right or wrong', async () => {
    const Cookie = await cookieFor(plant, 'admin');
    const wrong = { Cookie, Authorization: 'Bearer wrong' };
    expect((await exchange(plant, { path: '/v1/keys', headers: wrong })).status).toBe(401);
    const other = await exchange(plant, { path: '/v1/keys', as: 'read', headers: { Cookie } });
    expect(other.status).toBe(403);
  });

  it.each([
    ['no cookie', ''],
    ['another name', 'session=abc'],
    ['an empty id', `${COOKIE}=`],
    ['an id that was never given', `${COOKIE}=${'A'.repeat(43)}`],
    ['a token in its place', 'token'],
  ])('is none with %s', async (_name, text) => {
    const Cookie = text === 'token' ? `${COOKIE}=${plant.tokens.get('set')}` : text;
    const answer = await askWith(plant, Cookie);
    expect([answer.status, answer.body.type]).toEqual([401, '/problems/unauthenticated']);
  });

  it('ends after twelve hours without use, to the millisecond, and use puts that off', async () => {
    // The hours are those of the design; SESSION_IDLE_MS states them once.
    expect(SESSION_IDLE_MS).toBe(12 * 60 * 60 * 1000);
    const cookie = await cookieFor(plant, 'read');
    plant.wait(SESSION_IDLE_MS - 1);
    expect((await askWith(plant, cookie)).status).toBe(200);
    await plant.service.store.command(() => undefined);
    plant.wait(SESSION_IDLE_MS - 1);
    expect((await askWith(plant, cookie)).status).toBe(200);
    await plant.service.store.command(() => undefined);
    plant.wait(SESSION_IDLE_MS);
    expect((await askWith(plant, cookie)).status).toBe(401);
  });

  it('lives on although the clock was put back', async () => {
    const cookie = await cookieFor(plant, 'read');
    plant.wait(-60 * 60 * 1000);
    expect((await askWith(plant, cookie)).status).toBe(200);
    plant.wait(60 * 60 * 1000);
  });

  it('ends with its key: revoked, or expired', async () => {
    const expiresAt = new Date(plant.now + 1000).toISOString();
    for (const [name, more, end] of [
      ['leaver', {}, (id: number) => plant.make('admin', `/v1/keys/${id}/revocation`, {})],
      ['shift', { expiresAt }, () => plant.wait(1000)],
    ] as const) {
      const draft = { name, roles: ['read'], ...more };
      const issued = await plant.make<{ key: { id: number }; token: string }>(
        'admin',
        '/v1/keys',
        draft,
      );
      const cookie = cookieOf(await trySignIn(plant, issued.token));
      expect((await askWith(plant, cookie)).status).toBe(200);
      await end(issued.key.id);
      expect((await askWith(plant, cookie)).status).toBe(401);
    }
  });

  it('ends by signing out, and by signing in again from the same browser', async () => {
    const first = await cookieFor(plant, 'set');
    const again = await trySignIn(plant, plant.tokens.get('cell') ?? '', {
      headers: { Cookie: first },
    });
    const second = cookieOf(again);
    expect(second).not.toBe(first);
    expect((await askWith(plant, first)).status).toBe(401);
    expect((await askWith(plant, second)).status).toBe(200);
    const headers = { Cookie: second, ...OWN };
    const out = await exchange(plant, { method: 'POST', path: '/sign-out', headers });
    expect([out.status, out.headers.location]).toEqual([303, '/sign-in']);
    expect(out.headers['set-cookie']?.[0]).toMatch(/^skeg-session=; .*Expires=Thu, 01 Jan 1970/);
    expect((await askWith(plant, second)).status).toBe(401);
  });

  it('that has ended is swept away, one in use is not', async () => {
    const ended = await cookieFor(plant, 'read');
    plant.wait(SESSION_IDLE_MS);
    const used = await cookieFor(plant, 'set');
    const { store } = plant.service;
    // The service sweeps every two seconds by itself; this is the same, at once.
    await store.command((records) => records.sessions.expire(plant.now - SESSION_IDLE_MS, 1000));
    const hashOf = (cookie: string) =>
      createHash('sha256')
        .update(cookie.replace(`${COOKIE}=`, ''))
        .digest();
    expect(store.reading.sessions.byHash(hashOf(ended))).toBeUndefined();
    expect(store.reading.sessions.byHash(hashOf(used))).toBeDefined();
    expect((await askWith(plant, used)).status).toBe(200);
  });

  it('is no evidence: the journal does not grow by it, and the database verifies', async () => {
    const before = plant.eventCount();
    await cookieFor(plant, 'set');
    expect(plant.eventCount()).toBe(before);
    const { findings } = verifyDatabase(plant.service.store.path);
    expect(findings.filter((one) => one.table === 'sessions')).toEqual([]);
  });
});

describe('a command by session cookie', () => {
  let plant: TestPlant;
  let cookie: string;
  let body: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    cookie = await cookieFor(plant, 'set');
    await order(plant, 10);
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit');
    body = JSON.stringify({ powerhead, lowerUnit, station: 'SET-1' });
  });
  afterAll(() => plant.stop());

  const host = () => `127.0.0.1:${portOf(plant)}`;
  const send = (from: Record<string, string>) =>
    exchange(plant, {
      method: 'POST',
      path: '/v1/sets',
      headers: commandHeaders({ Cookie: cookie, ...from }),
      body,
    });

  it('is refused unless the browser says that a page of this origin sent it', async () => {
    const before = plant.eventCount();
    const strangers: Record<string, string>[] = [
      {},
      { 'Sec-Fetch-Site': 'cross-site' },
      { 'Sec-Fetch-Site': 'same-site' },
      { 'Sec-Fetch-Site': 'none' },
      { 'Sec-Fetch-Site': 'cross-site', Origin: `http://${host()}` },
      { Origin: 'http://elsewhere.example' },
      { Origin: `http://127.0.0.1:${portOf(plant) + 1}` },
      { Origin: `http://${host()}.elsewhere.example` },
      { Origin: 'null' },
      { Referer: `http://${host()}/set-station` },
    ];
    for (const from of strangers) {
      const answer = await send(from);
      expect([from, answer.status, answer.body.type]).toEqual([
        from,
        403,
        '/problems/cross-site-request',
      ]);
    }
    expect(plant.eventCount()).toBe(before);
  });

  it('is refused for an inquiry too, and never for a question', async () => {
    const headers = { 'Content-Type': 'application/json', Cookie: cookie };
    const asked = { method: 'POST', path: '/v1/where-used', headers, body: '{}' };
    expect((await exchange(plant, asked)).body.type).toBe('/problems/cross-site-request');
    const question = { path: '/v1/units', headers: { Cookie: cookie } };
    expect((await exchange(plant, question)).status).toBe(200);
  });

  it('is carried out from an own page, by either header', async () => {
    const first = await send(OWN);
    expect([first.status, typeof first.body.motor]).toEqual([201, 'string']);
    const second = await send({ Origin: `http://${host()}` });
    expect(second.body.type).toBe('/problems/already-installed');
  });

  it('is no matter for a program with a token, wherever it runs', async () => {
    const headers = commandHeaders({ 'Sec-Fetch-Site': 'cross-site', Cookie: cookie });
    const sent = { method: 'POST', path: '/v1/sets', as: 'set', headers, body };
    expect((await exchange(plant, sent)).body.type).toBe('/problems/already-installed');
  });

  it('signs nobody in or out from elsewhere', async () => {
    const token = plant.tokens.get('set') ?? '';
    const stranger = { 'Sec-Fetch-Site': 'cross-site' };
    const signIn = await trySignIn(plant, token, { headers: stranger });
    expect([signIn.status, signIn.headers['set-cookie']]).toEqual([403, undefined]);
    const headers = { Cookie: cookie, ...stranger };
    const out = await exchange(plant, { method: 'POST', path: '/sign-out', headers });
    expect(out.status).toBe(403);
    expect((await askWith(plant, cookie)).status).toBe(200);
  });
});

describe('signing in', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
  });
  afterAll(() => plant.stop());

  it.each([
    ['/set-station?station=SET-1', '/set-station?station=SET-1'],
    ['/', '/'],
    ['', '/'],
    ['https://elsewhere.example/', '/'],
    ['//elsewhere.example/x', '/'],
    ['/\\elsewhere.example', '/'],
    ['/\t/elsewhere.example', '/'],
    ['javascript:alert(1)', '/'],
    ['set-station', '/'],
  ])('with a way back to %j leads to %s', async (to, leads) => {
    const answer = await trySignIn(plant, plant.tokens.get('set') ?? '', { to });
    expect([answer.status, answer.headers.location]).toEqual([303, leads]);
  });

  it('takes a token with blanks around it, as it is pasted', async () => {
    expect((await trySignIn(plant, ` ${plant.tokens.get('set')}\n`)).status).toBe(303);
  });

  it('is refused with a page, and turned away past the limit that all failures share', async () => {
    const token = plant.tokens.get('set') ?? '';
    const empty = await trySignIn(plant, '  ');
    expect([empty.status, empty.text.includes('Enter a key first.')]).toEqual([422, true]);
    const wrong = token.slice(0, -1) + (token.endsWith('A') ? 'B' : 'A');
    for (let i = 1; i < FAILED_ATTEMPTS_A_MINUTE; i += 1) {
      const answer = await trySignIn(plant, wrong);
      expect(answer.status).toBe(401);
      expect(answer.headers['www-authenticate']).toBe('Bearer realm="skeg"');
      expect(answer.headers['set-cookie']).toBeUndefined();
      expect(answer.text).not.toContain(secretOf(wrong));
    }
    const byToken = { path: '/v1/units', headers: { Authorization: 'Bearer wrong' } };
    expect((await exchange(plant, byToken)).status).toBe(401);
    const turnedAway = await trySignIn(plant, wrong);
    expect(turnedAway.status).toBe(429);
    expect(Number(turnedAway.headers['retry-after'])).toBeGreaterThan(0);
    expect((await exchange(plant, byToken)).status).toBe(429);
    expect((await trySignIn(plant, token)).status).toBe(303);
  });

  it('over TLS gives a cookie that is secure and bound to this host by its name', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'skeg-test-'));
    const service = await startService({
      path: join(folder, 'skeg.db'),
      host: '127.0.0.1',
      port: 0,
      settings,
      clock: () => START,
      log: pino({ level: 'silent' }),
      trustedProxies: 1,
    });
    const token = (await firstKey(service.store, START)) ?? '';
    const behindTls = { ...FORM, ...OWN, 'X-Forwarded-Proto': 'https' };
    const answer = await fetch(`${service.address}/sign-in`, {
      method: 'POST',
      headers: behindTls,
      body: new URLSearchParams({ token }),
      redirect: 'manual',
    });
    const [pair = '', ...terms] = (answer.headers.get('set-cookie') ?? '').split('; ');
    expect(pair).toMatch(/^__Host-skeg-session=[\w-]{43}$/);
    expect(terms.sort()).toEqual(['HttpOnly', 'Path=/', 'SameSite=Strict', 'Secure']);
    const asked = await fetch(`${service.address}/v1/keys`, {
      headers: { Cookie: pair, 'X-Forwarded-Proto': 'https' },
    });
    expect(asked.status).toBe(200);
    await service.stop();
    rmSync(folder, { recursive: true, force: true });
  });
});
