import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ownAddress } from '../../src/pages/sign-in.js';
import { TestPlant } from '../support/plant.js';
import { exchange, type WireAnswer } from '../support/wire.js';

const HTML = { Accept: 'text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8' };
const OWN = { 'Sec-Fetch-Site': 'same-origin' };

describe('a page', () => {
  let plant: TestPlant;
  const cookies = new Map<string, string>();
  beforeAll(async () => {
    plant = await TestPlant.start();
    for (const role of ['set', 'cell']) {
      const body = new URLSearchParams({ token: plant.tokens.get(role) ?? '' }).toString();
      const headers = { 'Content-Type': 'application/x-www-form-urlencoded', ...OWN };
      const answer = await exchange(plant, { method: 'POST', path: '/sign-in', headers, body });
      cookies.set(role, answer.headers['set-cookie']?.[0]?.split(';')[0] ?? '');
    }
  });
  afterAll(() => plant.stop());

  /** Opens an address as a browser does, signed in or not. */
  function open(path: string, as?: string): Promise<WireAnswer> {
    const Cookie = as === undefined ? '' : (cookies.get(as) ?? '');
    return exchange(plant, { path, headers: { ...HTML, Cookie } });
  }

  it('leads whoever is not signed in to sign-in, and from there back', async () => {
    const answer = await open('/set-station?station=SET-1');
    expect(answer.status).toBe(303);
    expect(answer.headers.location).toBe('/sign-in?to=%2Fset-station%3Fstation%3DSET-1');
    const form = await open(answer.headers.location ?? '');
    expect(form.text).toContain('name="to" value="/set-station?station=SET-1"');
    expect((await open('/')).headers.location).toBe('/sign-in');
  });

  it('is led to from the start by the roles of the key', async () => {
    expect((await open('/', 'set')).headers.location).toBe('/set-station');
  });

  it('allows its browser nothing but what this service sends, and keeps nothing', async () => {
    const { headers, text } = await open('/set-station', 'set');
    expect(headers['content-security-policy']).toBe(
      "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    );
    expect(headers['cache-control']).toBe('no-store');
    expect(headers['content-type']).toBe('text/html; charset=utf-8');
    expect(headers['referrer-policy']).toBe('same-origin');
    expect(headers['x-content-type-options']).toBe('nosniff');
    expect(text).not.toMatch(/<style|\sstyle=|\son[a-z]+=/);
    for (const [, type] of text.matchAll(/<script(?![^>]*\ssrc=)([^>]*)>/g)) {
      expect(type).toContain('type="application/json"');
    }
  });

  it('escapes what it is given', async () => {
    const hostile = '"><script>alert(1)</script>';
    const form = await open(`/sign-in?to=${encodeURIComponent(`/${hostile}`)}`);
    expect(form.text).not.toContain('<script>alert');
    const unknown = await open(`/${encodeURIComponent(hostile)}`);
    expect(unknown.text).not.toContain('<script>alert');
  });

  it('names scripts and styles under a hash that may be kept for good', async () => {
    const { text } = await open('/set-station', 'set');
    const addresses = [...text.matchAll(/(?:href|src)="(\/assets\/[^"]+)"/g)].map((one) => one[1]);
    expect(addresses.length).toBeGreaterThanOrEqual(4);
    for (const address of addresses) {
      const asset = await open(address ?? '');
      expect([address, asset.status]).toEqual([address, 200]);
      expect(asset.headers['cache-control']).toBe('public, max-age=31536000, immutable');
      expect(asset.headers['content-type']).toMatch(/^text\/(css|javascript); charset=utf-8$/);
      expect(asset.text.length).toBeGreaterThan(100);
    }
    const [, , release] = (addresses[0] ?? '').split('/');
    expect(release).toMatch(/^[\w-]{16}$/);
    for (const path of [
      '/assets/0123456789abcdef/style/base.css',
      `/assets/${release}/style/none.css`,
      `/assets/${release}/../package.json`,
      `/assets/${release}/..%2Fpackage.json`,
      `/assets/${release}`,
    ]) {
      expect([path, (await open(path)).status]).toEqual([path, 404]);
    }
  });

  it('is an error page for people and a problem for programs', async () => {
    const person = await open('/nothing-here');
    expect([person.status, person.headers['content-type']]).toEqual([
      404,
      'text/html; charset=utf-8',
    ]);
    expect(person.text).toContain('<h1>There is nothing at this address</h1>');
    expect(person.text).toContain(String(person.headers['x-request-id']));
    const program = await exchange(plant, { path: '/nothing-here' });
    expect([program.status, program.body.type]).toEqual([404, '/problems/route-unknown']);
    const api = await exchange(plant, { path: '/v1/nothing', as: 'read', headers: HTML });
    expect(api.headers['content-type']).toBe('application/problem+json');
  });

  it('says in its own words whose it is, and what is wrong with its address', async () => {
    const other = await open('/set-station', 'cell');
    expect(other.status).toBe(403);
    expect(other.text).toContain(
      'This screen is for keys with the role set; key cell key has none',
    );
    const faulty = await open('/set-station?stations=SET-1', 'set');
    expect(faulty.status).toBe(400);
    expect(faulty.text).toContain('is not known here');
    const method = await exchange(plant, { method: 'PUT', path: '/set-station', headers: HTML });
    expect([method.status, method.headers.allow]).toEqual([405, 'GET, HEAD']);
  });
});

describe('the way back after signing in', () => {
  it.each([
    ['/history?serial=A%20B&class=motor', '/history?serial=A%20B&class=motor'],
    ['/a#b', '/a'],
    ['//x', '/'],
    ['///x', '/'],
    ['/\\/x', '/'],
    ['http:/x', '/'],
    ['', '/'],
  ])('%j is %j', (text, address) => {
    expect(ownAddress(text)).toBe(address);
  });
});
