import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  commandHeaders,
  exchange,
  exchangeText,
  portOf,
  posting,
  refused,
} from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
});
afterAll(() => plant.stop());

const draft = { code: 'fuel-pump', name: 'Fuel pump' };
const address = '/v1/part-classes';

/** The parameters that a refused question names. */
async function parametersOf(path: string): Promise<unknown[]> {
  const answer = await refused(plant, { path, as: 'read' }, 400, 'request-invalid');
  return (answer.body.errors as { parameter: string }[]).map((one) => one.parameter);
}

describe('the media type of a command', () => {
  it.each([
    'text/plain',
    'application/x-www-form-urlencoded',
    'multipart/form-data; boundary=x',
    'application/problem+json',
    'text/json',
    'application/json, text/plain',
    '',
  ])('is refused with what would be taken where it is %j', async (type) => {
    const sent = posting('configuration', address, draft, { 'Content-Type': type });
    const answer = await refused(plant, sent, 415, 'media-type-unsupported');
    expect(answer.headers.accept).toBe('application/json');
  });

  it('is refused where it is left out', async () => {
    const { 'Content-Type': _, ...headers } = commandHeaders();
    const sent = { method: 'POST', path: address, as: 'configuration', headers, body: '{}' };
    await refused(plant, sent, 415, 'media-type-unsupported');
  });

  it('is CSV for an import, and nothing else', async () => {
    const sent = posting('configuration', '/v1/configurations/import', {});
    const answer = await refused(plant, sent, 415, 'media-type-unsupported');
    expect(answer.headers.accept).toBe('text/csv');
  });

  it.each(['utf-16', 'utf-7', 'iso-8859-1', 'klingon'])(
    'is refused with the character set %s: JSON is UTF-8',
    async (charset) => {
      const type = `application/json; charset=${charset}`;
      const sent = posting('configuration', address, draft, { 'Content-Type': type });
      await refused(plant, sent, 415, 'media-type-unsupported');
    },
  );

  it.each(['zstd', 'compress', 'gzip, gzip', 'x'])(
    'is refused with the content coding %s, telling those that would be taken',
    async (coding) => {
      const sent = posting('configuration', address, draft, { 'Content-Encoding': coding });
      const answer = await refused(plant, sent, 415, 'media-type-unsupported');
      expect(answer.headers['accept-encoding']).toBe('gzip, deflate, br');
    },
  );

  it('may have parameters and capitals', async () => {
    const type = 'Application/JSON; Charset="UTF-8"';
    const body = { code: 'capitals', name: 'Capitals' };
    const sent = posting('configuration', address, body, { 'Content-Type': type });
    expect((await exchange(plant, sent)).status).toBe(201);
  });
});

describe('the Idempotency-Key', () => {
  it.each(['', ' ', 'two words', 'x'.repeat(256), 'Zoë', 'tab\there'])(
    'is refused as %j',
    async (key) => {
      const sent = posting('configuration', address, draft, { 'Idempotency-Key': key });
      await refused(plant, sent, 400, 'idempotency-key-missing');
    },
  );

  it('is required of POST and PUT', async () => {
    const headers = { 'Content-Type': 'application/json', 'If-Match': '"v1"' };
    const post = { method: 'POST', path: address, as: 'configuration', headers, body: '{}' };
    await refused(plant, post, 400, 'idempotency-key-missing');
    const put = { ...post, method: 'PUT', path: '/v1/configurations/1' };
    await refused(plant, put, 400, 'idempotency-key-missing');
  });

  it('is refused where it comes twice', async () => {
    const key = plant.tokens.get('configuration');
    const answer = await exchangeText(
      portOf(plant),
      `POST ${address} HTTP/1.1\r\nHost: x\r\nConnection: close\r\nAuthorization: Bearer ${key}\r\n` +
        'Idempotency-Key: a\r\nIdempotency-Key: b\r\nContent-Type: application/json\r\n' +
        'Content-Length: 2\r\n\r\n{}',
    );
    expect(answer).toContain('HTTP/1.1 400');
    expect(answer).toContain('/problems/idempotency-key-missing');
  });
});

describe('query and path parameters', () => {
  it('are refused where they are not known', async () => {
    expect(await parametersOf('/v1/units?colour=red')).toEqual(['colour']);
    expect(await parametersOf('/v1/units?class[a]=b')).toEqual(['class[a]']);
    expect(await parametersOf('/v1/units?__proto__=1')).toEqual(['__proto__']);
    expect(await parametersOf('/v1/orders/next?limit=5')).toEqual(['limit']);
  });

  it('are refused where they are repeated', async () => {
    expect(await parametersOf('/v1/units?class=powerhead&class=motor')).toEqual(['class']);
    expect(await parametersOf('/v1/units?limit=1&limit=1')).toEqual(['limit']);
  });

  it('are refused on a command', async () => {
    const sent = posting('configuration', `${address}?dry=true`, draft);
    const answer = await refused(plant, sent, 400, 'request-invalid');
    expect(answer.body.errors).toEqual([{ parameter: 'dry', detail: 'is not known here' }]);
  });

  it.each(['', 'yes', '1', 'false '])('a flag is not %j', async (flag) => {
    expect(await parametersOf(`/v1/units?onHold=${encodeURIComponent(flag)}`)).toEqual(['onHold']);
  });

  it.each(['0', '-1', '1.0', '1e1', ' 1', 'x', '9999999999', '%31%00'])(
    'a number in a path is not %j',
    async (text) => {
      expect(await parametersOf(`/v1/repairs/${encodeURIComponent(text)}`)).toEqual(['repair']);
    },
  );

  it.each(['/v1/orders/%zz', '/v1/orders/%', '/v1/orders/%e0%a4', '/v1/repairs/%ff'])(
    'a path is refused where its escapes are no UTF-8: %s',
    async (path) => {
      await refused(plant, { path, as: 'read' }, 400, 'request-invalid');
    },
  );

  it('a path with an escaped NUL or a traversal finds nothing', async () => {
    await refused(plant, { path: '/v1/orders/%00', as: 'read' }, 400, 'request-invalid');
    await refused(plant, { path: '/v1/../../etc/passwd', as: 'read' }, 404, 'route-unknown');
    const escaped = '/v1/orders/..%2F..%2Fetc%2Fpasswd';
    await refused(plant, { path: escaped, as: 'read' }, 400, 'request-invalid');
  });

  it('a long query is refused by its parameter, a path too long for any by HTTP itself', async () => {
    expect(await parametersOf(`/v1/units?after=${'x'.repeat(8000)}`)).toEqual(['after']);
    const answer = await exchange(plant, { path: `/v1/units?after=${'x'.repeat(20_000)}` });
    expect(answer.status).toBe(431);
    expect(answer.headers['content-type']).toBe('application/problem+json');
    expect(answer.body).toMatchObject({ type: 'about:blank', status: 431 });
  });
});

describe('methods and addresses', () => {
  it.each([
    ['DELETE', '/v1/units', 'GET, HEAD, POST'],
    ['PATCH', '/v1/units', 'GET, HEAD, POST'],
    ['OPTIONS', '/v1/units', 'GET, HEAD, POST'],
    ['PUT', '/v1/orders/next', 'GET, HEAD'],
    ['GET', '/v1/configurations/import', 'POST'],
    ['HEAD', '/v1/configurations/import', 'POST'],
    ['DELETE', '/v1/configurations/1', 'GET, HEAD, PUT'],
    ['TRACE', '/v1/units', 'GET, HEAD, POST'],
    ['POST', '/health/live', 'GET, HEAD'],
    ['DELETE', '/openapi.yaml', 'GET, HEAD'],
    ['PUT', '/metrics', 'GET, HEAD'],
    ['POST', '/problems', 'GET, HEAD'],
    ['DELETE', '/problems/forbidden', 'GET, HEAD'],
  ])('%s %s is answered with 405 and Allow: %s', async (method, path, allow) => {
    const before = plant.eventCount();
    const answer = await exchange(plant, { method, path, as: 'read' });
    expect(answer.status).toBe(405);
    expect(answer.headers.allow).toBe(allow);
    expect(answer.headers['content-type']).toBe('application/problem+json');
    if (method !== 'HEAD') expect(answer.body.type).toBe('/problems/method-not-allowed');
    expect(plant.eventCount()).toBe(before);
  });

  it.each([
    '/v1',
    '/v1/',
    '/v1/nothing',
    '/v1/units/',
    '/v1/Units',
    '/v2/units',
    '/v1/units/1',
    '/health',
    '/problems/no-such-problem',
    '//v1/units',
  ])('nothing is at %s', async (path) => {
    await refused(plant, { path, as: 'read' }, 404, 'route-unknown');
  });

  it('an unknown address under /v1 tells nothing to a caller without a key', async () => {
    const answer = await exchange(plant, { path: '/v1/nothing' });
    expect(answer.status).toBe(401);
    expect(answer.body.type).toBe('/problems/unauthenticated');
  });

  it('HEAD has the headers of GET and no body', async () => {
    const get = await exchange(plant, { path: '/v1/part-classes', as: 'read' });
    const head = await exchange(plant, { method: 'HEAD', path: '/v1/part-classes', as: 'read' });
    expect(head.status).toBe(200);
    expect(head.text).toBe('');
    expect(head.headers['content-length']).toBe(get.headers['content-length']);
  });
});

describe('an Accept header', () => {
  it.each([
    ['/v1/units', 'text/html'],
    ['/v1/units', 'application/xml;q=0.9'],
    ['/v1/units', 'application/json;q=0, text/csv;q=0'],
    ['/v1/orders/next', 'text/csv'],
    ['/v1/orders/next', 'application/problem+json'],
  ])('of %s that cannot be met is refused: %s', async (path, accept) => {
    const sent = { path, as: 'read', headers: { Accept: accept } };
    await refused(plant, sent, 406, 'not-acceptable');
  });

  it.each([
    ['*/*', 'application/json'],
    ['application/*', 'application/json'],
    ['text/*', 'text/csv'],
    ['text/csv;q=0.5, application/json;q=0.6', 'application/json'],
    ['text/csv, application/json;q=0.9', 'text/csv'],
    ['text/html, text/csv;q=0.1', 'text/csv'],
  ])('of %s gets a table as %s', async (accept, type) => {
    const answer = await exchange(plant, {
      path: '/v1/units',
      as: 'read',
      headers: { Accept: accept },
    });
    expect(answer.status).toBe(200);
    expect(answer.headers['content-type']?.split(';')[0]).toBe(type);
    expect(answer.headers.vary).toBe('Accept');
  });
});

describe('text that is no HTTP request', () => {
  it.each([
    ['an unknown method', 'FETCH / HTTP/1.1\r\nHost: x\r\n\r\n'],
    ['two lengths', 'POST /v1/units HTTP/1.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n'],
    [
      'a length and chunks',
      'POST /v1/units HTTP/1.1\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n',
    ],
    ['noise', '\u0016\u0003\u0001 noise\r\n\r\n'],
  ])('is answered with a problem and hung up on: %s', async (_name, text) => {
    const answer = await exchangeText(portOf(plant), text);
    expect(answer).toMatch(/^HTTP\/1\.1 400 Bad Request\r\n/);
    expect(answer).toContain('Content-Type: application/problem+json');
    expect(JSON.parse(answer.split('\r\n\r\n')[1] ?? '')).toMatchObject({
      type: 'about:blank',
      title: 'Bad Request',
      status: 400,
    });
  });
});
