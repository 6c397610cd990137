/**
 * Two readers of one connection must not see different requests in it: RFC 9112 (HTTP/1.1),
 * sections 5.2 (obsolete line folding), 6.1 (Transfer-Encoding), 6.3 (message body length) and
 * 11.2 (request smuggling). Sections from memory.
 */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { exchange, exchangeText, portOf } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
});
afterAll(() => plant.stop());

/** A command that stands where a body should be, and would be carried out if it were believed. */
function smuggled(): string {
  const body = '{"code":"smuggled","name":"Smuggled"}';
  return [
    'POST /v1/part-classes HTTP/1.1',
    'Host: x',
    `Authorization: Bearer ${plant.tokens.get('configuration')}`,
    'Idempotency-Key: smuggled',
    'Content-Type: application/json',
    'Connection: close',
    `Content-Length: ${body.length}`,
    '',
    body,
  ].join('\r\n');
}

function carrier(headers: string, body: string): string {
  const start = 'POST /v1/part-classes HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n';
  return `${start}Authorization: Bearer ${plant.tokens.get('read')}\r\n${headers}\r\n\r\n${body}`;
}

const chunkedEnd = '0\r\n\r\n';

const attempts: [string, (inner: string) => string][] = [
  [
    'a length and chunks',
    (inner) =>
      carrier(
        `Content-Length: ${(chunkedEnd + inner).length}\r\nTransfer-Encoding: chunked`,
        chunkedEnd + inner,
      ),
  ],
  [
    'chunks and a length',
    (inner) =>
      carrier(
        'Transfer-Encoding: chunked\r\nContent-Length: 4',
        `4\r\nabcd\r\n${chunkedEnd}${inner}`,
      ),
  ],
  [
    'two lengths',
    (inner) => carrier(`Content-Length: 0\r\nContent-Length: ${inner.length}`, inner),
  ],
  ['a list of lengths', (inner) => carrier(`Content-Length: 0, ${inner.length}`, inner)],
  ['a length with a sign', (inner) => carrier('Content-Length: +0', inner)],
  ['a length in another base', (inner) => carrier('Content-Length: 0x0', inner)],
  ['a length with a blank before its colon', (inner) => carrier('Content-Length : 0', inner)],
  ['a length that is negative', (inner) => carrier('Content-Length: -1', inner)],
  ['an unknown transfer coding', (inner) => carrier('Transfer-Encoding: xchunked', inner)],
  [
    'chunks that are not the last coding',
    (inner) => carrier('Transfer-Encoding: chunked, identity', chunkedEnd + inner),
  ],
  [
    'chunks twice',
    (inner) =>
      carrier('Transfer-Encoding: chunked\r\nTransfer-Encoding: identity', chunkedEnd + inner),
  ],
  [
    'a coding after a vertical tab',
    (inner) => carrier('Transfer-Encoding:\u000bchunked', chunkedEnd + inner),
  ],
  ['a folded header', (inner) => carrier(`X-A: b\r\n Content-Length: ${inner.length}`, inner)],
  [
    'a folded first header',
    (inner) => carrier('Transfer-Encoding:\r\n chunked', chunkedEnd + inner),
  ],
  ['a header without a colon', (inner) => carrier('Transfer-Encoding chunked', inner)],
  ['a header name with NUL', (inner) => carrier('Transfer-\u0000Encoding: chunked', inner)],
  [
    'a chunk size with a sign',
    (inner) => carrier('Transfer-Encoding: chunked', `+0\r\n\r\n${inner}`),
  ],
  [
    'a chunk size past any number',
    (inner) => carrier('Transfer-Encoding: chunked', `1${'0'.repeat(40)}\r\n${inner}`),
  ],
  ['a chunk size that is none', (inner) => carrier('Transfer-Encoding: chunked', `zz\r\n${inner}`)],
  ['bare line feeds in chunks', (inner) => carrier('Transfer-Encoding: chunked', `0\n\n${inner}`)],
  ['a bare carriage return', (inner) => carrier('X-A: b\rTransfer-Encoding: chunked', inner)],
  ['a version of its own', (inner) => `POST /v1/part-classes HTTP/1.10\r\nHost: x\r\n\r\n${inner}`],
];

describe('a request that can be read in two ways (API8)', () => {
  it('would be found out: what is smuggled is carried out when it is sent alone', async () => {
    const own = await TestPlant.start();
    const inner = smuggled().replace(/Bearer .*/, `Bearer ${own.tokens.get('configuration')}`);
    expect(await exchangeText(portOf(own), inner)).toMatch(/^HTTP\/1\.1 201 /);
    await own.stop();
  });

  it.each(attempts)('is refused and hung up on: %s', async (_name, attempt) => {
    const answer = await exchangeText(portOf(plant), attempt(smuggled())).catch(
      (error: NodeJS.ErrnoException) => `${error.code}`,
    );
    // One answer, and none to what came behind.
    expect(answer.match(/HTTP\/1\.1 \d{3}/g) ?? []).toEqual(['HTTP/1.1 400']);
    expect(plant.eventCount()).toBe(0);
    const classes = await exchange(plant, { path: '/v1/part-classes', as: 'read' });
    expect(classes.text).not.toContain('smuggled');
  });

  it('two requests at once are two requests, each with its own answer', async () => {
    const one = `GET /v1/units HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer ${plant.tokens.get('read')}\r\n`;
    const both = `${one}\r\nGET /v1/units HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n`;
    const answer = await exchangeText(portOf(plant), both);
    // The second carries no key, and gets nothing by the first one’s.
    expect(answer.match(/HTTP\/1\.1 \d{3}/g)).toEqual(['HTTP/1.1 200', 'HTTP/1.1 401']);
  });
});
