/**
 * HTTP as its standards describe it: RFC 9110 (HTTP semantics), RFC 9457 (problem
 * details), RFC 6585 (further status codes), RFC 6750 (bearer tokens) and RFC 8288 (web
 * linking). The section stands in each test's name; sections are mostly
 * from memory; no wording is copied.
 */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { OverloadedError, StorageError } from '../../src/store/errors.js';
import { TestPlant } from '../support/plant.js';
import { furnish } from '../support/scenario.js';
import { exchange, posting } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

const configuration = {
  code: 'F100L-B',
  model: 'F100L',
  powerheadNumber: 'PH-100',
  lowerUnitNumber: 'LU-20',
};

/** Drafts a configuration and returns its address. */
async function draftAddress(code: string): Promise<string> {
  const draft = { ...configuration, code };
  const made = await exchange(plant, posting('configuration', '/v1/configurations', draft));
  return made.headers.location ?? '';
}

/** Puts a draft under an If-Match, or none. */
function put(address: string, body: object, ifMatch?: string) {
  const headers: Record<string, string> = ifMatch === undefined ? {} : { 'If-Match': ifMatch };
  return exchange(plant, { ...posting('configuration', address, body, headers), method: 'PUT' });
}

describe('RFC 9457, problem details', () => {
  it('section 3: the media type is application/problem+json', async () => {
    const answer = await exchange(plant, { path: '/v1/orders/none', as: 'read' });
    expect(answer.headers['content-type']).toBe('application/problem+json');
  });

  it('section 3.1: type, title, status and detail are there, of the types it says', async () => {
    const answer = await exchange(plant, { path: '/v1/orders/none', as: 'read' });
    const { type, title, status, detail } = answer.body;
    expect([typeof type, typeof title, typeof status, typeof detail]).toEqual([
      'string',
      'string',
      'number',
      'string',
    ]);
  });

  it('section 3.1.1: the type is a URI reference that finds its page', async () => {
    const answer = await exchange(plant, { path: '/v1/orders/none', as: 'read' });
    const page = new URL(String(answer.body.type), `${plant.service.address}/v1/orders/none`);
    const found = await exchange(plant, { path: page.pathname });
    expect(found.body).toMatchObject({ title: answer.body.title, status: answer.body.status });
  });

  it('section 3.1.2: status is the status of the answer', async () => {
    const answer = await exchange(plant, { path: '/v1/nothing', as: 'read' });
    expect(answer.body.status).toBe(answer.status);
  });

  it('section 3.1.3: the title is the same from one occurrence to the next, the detail is not', async () => {
    const one = await exchange(plant, { path: '/v1/orders/none', as: 'read' });
    const other = await exchange(plant, { path: '/v1/orders/nor-this', as: 'read' });
    expect(other.body.title).toBe(one.body.title);
    expect(other.body.detail).not.toBe(one.body.detail);
  });

  it('section 3.2: what else there is to say stands in further members', async () => {
    const answer = await exchange(plant, { path: '/v1/units?limit=0', as: 'read' });
    expect(answer.body.errors).toMatchObject([{ parameter: 'limit' }]);
  });

  it('section 4.2.1: about:blank has the title of its status', async () => {
    const answer = await exchange(plant, { path: `/${'x'.repeat(20_000)}` });
    // RFC 6585, 5: 431 is for header fields; node:http counts the request line among them.
    expect(answer.body).toMatchObject({
      type: 'about:blank',
      title: 'Request Header Fields Too Large',
      status: 431,
    });
  });
});

describe('RFC 9110, authentication', () => {
  it('15.5.2 and 11.6.1: 401 comes with a challenge (RFC 6750, 3: of the scheme Bearer)', async () => {
    const answer = await exchange(plant, { path: '/v1/units' });
    expect(answer.status).toBe(401);
    expect(answer.headers['www-authenticate']).toMatch(/^Bearer realm="[^"]+"$/);
  });

  it('11.1: the name of the scheme has no case', async () => {
    const headers = { Authorization: `bearer ${plant.tokens.get('read')}` };
    expect((await exchange(plant, { path: '/v1/units', headers })).status).toBe(200);
  });

  it('15.5.4: 403 is for a key that is known but not enough, without a challenge', async () => {
    const answer = await exchange(plant, { path: '/v1/keys', as: 'read' });
    expect(answer.status).toBe(403);
    expect(answer.headers['www-authenticate']).toBeUndefined();
  });
});

describe('RFC 9110, methods and negotiation', () => {
  it('15.5.6 and 10.2.1: 405 lists in Allow what the address takes', async () => {
    const answer = await exchange(plant, { method: 'DELETE', path: '/v1/orders', as: 'read' });
    expect(answer.status).toBe(405);
    expect(answer.headers.allow?.split(', ')).toEqual(['GET', 'HEAD', 'POST']);
  });

  it('9.3.2: HEAD has the header fields of GET, and no content', async () => {
    const get = await exchange(plant, { path: '/v1/models', as: 'read' });
    const head = await exchange(plant, { method: 'HEAD', path: '/v1/models', as: 'read' });
    expect([head.status, head.text]).toEqual([200, '']);
    for (const name of ['content-type', 'content-length', 'cache-control', 'vary']) {
      expect(head.headers[name]).toBe(get.headers[name]);
    }
  });

  it('15.5.7: 406 where no form fits Accept; 12.5.5: Vary says that Accept chose', async () => {
    const html = { path: '/v1/models', as: 'read', headers: { Accept: 'text/html' } };
    expect((await exchange(plant, html)).status).toBe(406);
    const csv = { path: '/v1/models', as: 'read', headers: { Accept: 'text/csv' } };
    expect((await exchange(plant, csv)).headers.vary).toBe('Accept');
  });

  it('12.4.2: a weight of 0 means not acceptable', async () => {
    const headers = { Accept: 'text/csv;q=0, */*;q=0.1' };
    const answer = await exchange(plant, { path: '/v1/models', as: 'read', headers });
    expect(answer.headers['content-type']).toBe('application/json');
  });

  it('15.3.2 and 10.2.2: 201 comes with the Location of what was made', async () => {
    const address = await draftAddress('located');
    expect((await exchange(plant, { path: address, as: 'read' })).body.code).toBe('located');
  });
});

describe('RFC 9110, content', () => {
  it('15.5.14: 413 for content larger than the address takes', async () => {
    const sent = posting('configuration', '/v1/models', 'x'.repeat(64 * 1024 + 1));
    expect((await exchange(plant, sent)).status).toBe(413);
  });

  it('15.5.16: 415 says in Accept or Accept-Encoding what would be taken', async () => {
    const type = posting('configuration', '/v1/models', {}, { 'Content-Type': 'text/plain' });
    const wrongType = await exchange(plant, type);
    expect([wrongType.status, wrongType.headers.accept]).toEqual([415, 'application/json']);
    const coding = posting('configuration', '/v1/models', {}, { 'Content-Encoding': 'exi' });
    const wrongCoding = await exchange(plant, coding);
    expect([wrongCoding.status, wrongCoding.headers['accept-encoding']]).toEqual([
      415,
      'gzip, deflate, br',
    ]);
  });
});

describe('conditional requests', () => {
  it('RFC 9110, 8.8.3: the entity tag is a strong one, and changes with the draft', async () => {
    const address = await draftAddress('tagged');
    const first = await exchange(plant, { path: address, as: 'read' });
    expect(first.headers.etag).toMatch(/^"[^"]+"$/);
    await put(address, { ...configuration, code: 'tagged' }, first.headers.etag);
    const second = await exchange(plant, { path: address, as: 'read' });
    expect(second.headers.etag).not.toBe(first.headers.etag);
  });

  it('RFC 6585, 3: 428 where no condition is sent', async () => {
    const address = await draftAddress('unconditional');
    const answer = await put(address, { ...configuration, code: 'unconditional' });
    expect([answer.status, answer.body.type]).toEqual([428, '/problems/precondition-required']);
    // Conditions that do not say which draft was read.
    for (const tag of ['*', '"v1", "v2"', 'v1']) {
      const vague = await put(address, { ...configuration, code: 'unconditional' }, tag);
      expect([tag, vague.status]).toEqual([tag, 428]);
    }
  });

  it.each(['"v2"', '"v0"', '"another"', '""', 'W/"v1"'])(
    'RFC 9110, 13.1.1 and 15.5.13: 412 where the tag is not the draft’s: %s',
    async (tag) => {
      const code = `conditional-${Buffer.from(tag).toString('hex')}`;
      const address = await draftAddress(code);
      const answer = await put(address, { ...configuration, code }, tag);
      expect([answer.status, answer.body.type]).toEqual([412, '/problems/version-conflict']);
      const kept = await exchange(plant, { path: address, as: 'read' });
      expect(kept.headers.etag).toBe('"v1"');
    },
  );
});

describe('coming back later', () => {
  it.each([
    ['overloaded', new OverloadedError('x')],
    ['storage-unavailable', new StorageError('x')],
  ])('RFC 9110, 15.6.4 and 10.2.3: 503 %s says in Retry-After when', async (slug, error) => {
    const { store } = plant.service;
    const original = store.command;
    store.command = () => Promise.reject(error);
    const sent = posting('configuration', '/v1/part-classes', { code: 'a', name: 'A' });
    const answer = await exchange(plant, sent);
    store.command = original;
    expect([answer.status, answer.body.type]).toEqual([503, `/problems/${slug}`]);
    expect(answer.headers['retry-after']).toMatch(/^\d+$/);
    // The same request, once the trouble is over: an answer in the 5xx class is never kept.
    expect((await exchange(plant, sent)).status).not.toBe(503);
  });
});

describe('RFC 8288, web linking', () => {
  it('section 3: the next page is a Link of the relation next, the last page has none', async () => {
    const first = await exchange(plant, { path: '/v1/parts?limit=5', as: 'read' });
    const next = /^<([^>]+)>; rel="next"$/.exec(first.headers.link ?? '')?.[1] ?? '';
    const second = await exchange(plant, { path: next, as: 'read' });
    expect(second.status).toBe(200);
    // The scenario has six parts.
    expect((second.body.items as unknown[]).length).toBe(1);
    expect(second.headers.link).toBeUndefined();
  });
});
