import fc from 'fast-check';
import { bodyOf, type Corpus, type MadeBody } from './bodies.js';
import { fitting, type Stock } from './fitting.js';
import { type BodyChange, bodyChanges, bytesOf, hostileTexts } from './hostile.js';
import type { Operation, Parameter } from './operations.js';
import { type FuzzRequest, twists } from './twists.js';

const keysOf: Record<string, readonly string[]> = {
  quality: ['quality', 'quality', 'quality 2'],
  configuration: ['configuration', 'configuration', 'configuration 2'],
};

/** Which key sends it: mostly one that may. */
function sender({ roles }: Operation): fc.Arbitrary<string | undefined> {
  const able = roles === 'any' ? ['read', 'set'] : roles.flatMap((one) => keysOf[one] ?? [one]);
  return fc.oneof(
    { weight: 60, arbitrary: fc.constantFrom(...able) },
    { weight: 3, arbitrary: fc.constantFrom('set', 'cell', 'repair', 'admin', 'read') },
    { weight: 1, arbitrary: fc.constantFrom(undefined, 'nobody') },
  );
}

const hostileText = fc.constantFrom(...hostileTexts);

/** Half a surrogate pair has no UTF-8, and so cannot stand in an address. */
const isUnicode = (text: string) => !/\p{Cs}/u.test(text);

function pathOf(operation: Operation, stock: Stock): fc.Arbitrary<string> {
  const parameters = operation.parameters.filter((one) => one.in === 'path');
  const values = parameters.map((one) => {
    const known = stock.known.ofPath(one.name);
    const fits = fitting(one.schema, one.name, stock).map(String);
    return fc.oneof(
      { weight: 12, arbitrary: known.length > 0 ? fc.constantFrom(...known) : fits },
      // Whatever fits could be the id of a key that the test itself needs.
      { weight: 2, arbitrary: one.name === 'key' ? fc.constant('999999') : fits },
      { weight: 1, arbitrary: hostileText.filter((text) => text !== '' && isUnicode(text)) },
    );
  });
  return fc
    .tuple(...values)
    .map((texts) =>
      parameters.reduce(
        (path, { name }, i) => path.replace(`{${name}}`, encodeURIComponent(texts[i] ?? '')),
        operation.path,
      ),
    );
}

const oddPairs = fc.constantFrom(
  ...['colour=red', '__proto__=1', 'constructor[prototype]=1', 'limit=1&limit=2', 'after=x'],
  ...['limit=0', 'limit=1e3', 'after=bnVsbA', 'after=WzFd', 'after=WyJ4Il0', '&&==&', '%zz=%', '%'],
  ...['a=%ff', 'a=%00', 'model=%ED%A0%80', '?', `x=${'y'.repeat(3000)}`, 'class[]=motor', '=', '#'],
);

function queryOf(operation: Operation, stock: Stock): fc.Arbitrary<string> {
  const parameters = operation.parameters.filter((one) => one.in === 'query');
  const pairs = parameters.map((one) => pairOf(one, stock));
  const usual = fc.tuple(...pairs).map((all) => all.filter((pair) => pair !== undefined));
  const odd = fc.option(oddPairs, { nil: undefined, freq: 12 });
  return fc
    .tuple(usual, fc.oneof({ weight: 19, arbitrary: fc.constant(undefined) }, odd))
    .map(([all, more]) => [...all, ...(more === undefined ? [] : [more])].join('&'));
}

function pairOf(parameter: Parameter, stock: Stock): fc.Arbitrary<string | undefined> {
  const { name, schema, required } = parameter;
  // A cursor is ours or it is none: the rest is for the odd pairs.
  if (name === 'after') return fc.constant(undefined);
  const value = fc.oneof(
    { weight: 30, arbitrary: fitting(schema, name, stock).map(String) },
    { weight: 1, arbitrary: hostileText.filter(isUnicode) },
  );
  const pair = value.map((text) => `${name}=${encodeURIComponent(text)}`);
  const weight = required ? 20 : 1;
  return fc.oneof(
    { weight, arbitrary: pair },
    { weight: required ? 1 : 3, arbitrary: fc.constant(undefined) },
  );
}

/** Requests of an operation: two of five just as documented, the others off in one way or more. */
export function requestsOf(
  operation: Operation,
  stock: Stock,
  corpus: Corpus,
): fc.Arbitrary<FuzzRequest> {
  const noChange: BodyChange[] = [];
  const noBody = fc.constant<MadeBody>({ body: undefined });
  const changes = fc.oneof(
    { weight: 3, arbitrary: fc.constant(noChange) },
    { weight: 2, arbitrary: bodyChanges },
  );
  const twist = fc.oneof(
    { weight: 5, arbitrary: fc.constant(undefined) },
    { weight: 1, arbitrary: fc.constantFrom(...twists) },
  );
  return fc
    .record({
      path: pathOf(operation, stock),
      query: queryOf(operation, stock),
      as: sender(operation),
      made: operation.body ? bodyOf(operation, stock, corpus) : noBody,
      changes,
      twist,
      version: fc.constantFrom(1, 1, 2, 3),
      key: fc.uuid(),
      twice: fc.nat(15).map((n) => n === 0),
    })
    .map(({ made: { body, path }, ...made }) => {
      const query = made.query === '' ? '' : `?${made.query}`;
      const headers: Record<string, string | string[]> = {};
      if (operation.body) headers['Content-Type'] = operation.body.media;
      if (operation.isCommand) headers['Idempotency-Key'] = made.key;
      if (operation.method === 'put') headers['If-Match'] = `"v${made.version}"`;
      const request: FuzzRequest = {
        operation: operation.name,
        method: operation.method.toUpperCase(),
        path: `${path ?? made.path}${query}`,
        ...(made.as === undefined ? {} : { as: made.as }),
        headers,
        ...(operation.body ? { body: changed(body, made.changes, operation) } : {}),
        twice: made.twice && operation.isCommand,
      };
      return made.twist ? made.twist(request) : request;
    });
}

function changed(body: unknown, changes: readonly BodyChange[], { body: of }: Operation): Buffer {
  const begun = of?.media === 'text/csv' ? { text: String(body) } : { value: body };
  return bytesOf(changes.reduce<Parameters<BodyChange>[0]>((so, change) => change(so), begun));
}
