import { brotliCompressSync, deflateSync, gzipSync } from 'node:zlib';

/** A request as it is to be sent; all of it stands in a failure's message. */
export interface FuzzRequest {
  operation: string;
  method: string;
  path: string;
  /** Which of the plant's keys it carries; none where left out. */
  as?: string;
  headers: Record<string, string | string[]>;
  body?: Buffer;
  /** Break the connection off after so many bytes of the body. */
  breakOffAt?: number;
  /** Send it once more: a command must then give the same answer and change nothing. */
  twice: boolean;
}

/** A request as text from which it can be sent again. */
export function shown(sent: FuzzRequest): string {
  const body = sent.body?.toString('latin1');
  return JSON.stringify({ ...sent, ...(body === undefined ? {} : { body: body.slice(0, 2000) }) });
}

/** What is done to a request on its way. */
export type Twist = (request: FuzzRequest) => FuzzRequest;

const withHeaders =
  (more: Record<string, string | string[]>): Twist =>
  (request) => ({ ...request, headers: { ...request.headers, ...more } });

const without =
  (name: string): Twist =>
  (request) => {
    const { [name]: _, ...headers } = request.headers;
    return { ...request, headers };
  };

const packed =
  (coding: string, pack: (bytes: Buffer) => Buffer): Twist =>
  (request) =>
    request.body
      ? withHeaders({ 'Content-Encoding': coding })({ ...request, body: pack(request.body) })
      : request;

/** What clients and those in between do to requests. */
export const twists: readonly Twist[] = [
  without('Idempotency-Key'),
  without('Content-Type'),
  without('If-Match'),
  ...['', 'two words', 'x'.repeat(256), 'a,b', '%00'].map((key) =>
    withHeaders({ 'Idempotency-Key': key }),
  ),
  withHeaders({ 'Idempotency-Key': ['one', 'two'] }),
  // Another may be under way with it, so that a second send is answered otherwise.
  (request) => ({
    ...withHeaders({ 'Idempotency-Key': 'always-the-same' })(request),
    twice: false,
  }),
  ...[
    'text/plain',
    'text/csv',
    'application/xml',
    'application/json; charset=utf-16',
    ';',
    '/',
  ].map((type) => withHeaders({ 'Content-Type': type })),
  withHeaders({ 'Content-Type': 'application/json; charset=utf-8; boundary="\\"' }),
  ...['gzip', 'deflate', 'br', 'zstd', 'identity', 'gzip, gzip', ''].map((coding) =>
    withHeaders({ 'Content-Encoding': coding }),
  ),
  packed('gzip', gzipSync),
  packed('deflate', deflateSync),
  packed('br', brotliCompressSync),
  packed('gzip', (bytes) => gzipSync(bytes).subarray(0, -9)),
  packed('gzip', () => gzipSync(Buffer.alloc(3_000_000, 0x20))),
  ...['*', '"v0"', '"v1", "v2"', 'W/"v1"', 'v1', '""', '"v999999999999"'].map((tag) =>
    withHeaders({ 'If-Match': tag }),
  ),
  ...['text/csv', 'text/html', '*/*', 'application/json;q=0', ',', 'text/csv;q=0.1, */*', 'x'].map(
    (accept) => withHeaders({ Accept: accept }),
  ),
  ...['two words', '\u00e9', 'x'.repeat(200), '{"level":60}'].map((id) =>
    withHeaders({ 'X-Request-Id': id }),
  ),
  withHeaders({ 'Content-Length': '99999999999' }),
  withHeaders({ 'Transfer-Encoding': 'chunked' }),
  withHeaders({ Expect: '100-continue' }),
  withHeaders({ Cookie: 'skeg-session=x; __proto__=1; =; ;' }),
  withHeaders({ Range: 'bytes=0-1', 'If-None-Match': '*', 'If-Modified-Since': 'x' }),
  withHeaders({ 'X-HTTP-Method-Override': 'DELETE', 'X-Forwarded-For': '127.0.0.1, ::1' }),
  (request) => ({ ...request, method: 'DELETE' }),
  (request) => ({ ...request, method: 'PATCH' }),
  (request) => ({ ...request, method: 'OPTIONS' }),
  (request) => (request.method === 'GET' ? { ...request, method: 'HEAD' } : request),
  (request) =>
    request.body ? { ...request, breakOffAt: Math.floor(request.body.length / 2) } : request,
];
