import fc from 'fast-check';

/** Names that every object seems to bear. */
const inherited = ['__proto__', 'constructor', 'prototype', 'toString', 'hasOwnProperty'];

/** Texts that have broken programs before. */
export const hostileTexts: readonly string[] = [
  '',
  ' ',
  '\u0000',
  'a\nb',
  'a\r\nSet-Cookie: x=1',
  '\u001b[31mred\u001b[0m',
  '\u0085',
  '\u2028',
  '\u202eevil\u202c',
  '\ud800',
  'a\udc00b',
  '\ufeff',
  '\u{1F468}\u200d\u{1F469}\u200d\u{1F467}',
  'ı',
  'İ',
  'ﬀ',
  'e\u0301'.repeat(50),
  'x'.repeat(501),
  'x'.repeat(5000),
  "' OR '1'='1",
  "'; DROP TABLE units; --",
  '" UNION SELECT secret_hash FROM api_keys --',
  '%00',
  '%',
  '../../etc/passwd',
  '$' + '{7*7}',
  '{{7*7}}',
  '<script>alert(1)</script>',
  '=1+1',
  '-0',
  '1e400',
  'NaN',
  '0x10',
  '１２',
  '2026-02-30T25:61:61Z',
  '2026-03-02T06:00:00+99:99',
  '-271821-04-20T00:00:00Z',
  '+275760-09-13T00:00:00.001Z',
  ...inherited,
];

/** Pieces of JSON text that are no value, or one that few expect. */
const fragments: readonly string[] = [
  ...['1e400', '-1e400', '1e-400', '-0', '0.1e1', '1.0', '01', '+1', '.5', 'NaN', 'Infinity'],
  ...['9007199254740993', '1e21', '4.9e-324', `1${'0'.repeat(400)}`, `0.${'3'.repeat(400)}`],
  ...['null', 'true', '[]', '{}', '[null]', '""', '"\\ud800"', '"\\u0000"', '"\\udc00\\ud800"'],
  ...['undefined', "'x'", '"a\tb"', '"\\x41"', '{"__proto__":null}', '{"constructor":{}}'],
  ...[
    '[[[[[[[[[[]]]]]]]]]]',
    `${'['.repeat(5000)}${']'.repeat(5000)}`,
    `"${'\\ud83d'.repeat(100)}"`,
  ],
];

/** Values of every type that a member may be given in place of its own. */
const hostileValues: readonly unknown[] = [
  ...[null, true, false, 0, -1, 0.5, 1e308, -1e308, 2 ** 53, 5e-324, [], {}, [[]], [null]],
  ...hostileTexts,
  Array.from({ length: 300 }, () => 'x'),
  Object.fromEntries(Array.from({ length: 200 }, (_, i) => [`m${i}`, i])),
];

const hostileName = fc.constantFrom(
  ...inherited,
  'colour',
  'id',
  'roles',
  '',
  ' ',
  'x'.repeat(300),
);
const hostileValue = fc.constantFrom(...hostileValues);

type Changed = { value: unknown } | { text: string } | { bytes: Buffer };
/** A change of a body: of its value while it is one, then of its text, then of its bytes. */
export type BodyChange = (body: Changed) => Changed;

const textOf = (body: Changed): string =>
  'value' in body
    ? (JSON.stringify(body.value) ?? '')
    : 'text' in body
      ? body.text
      : body.bytes.toString('latin1');

export function bytesOf(body: Changed): Buffer {
  return 'bytes' in body ? body.bytes : Buffer.from(textOf(body), 'utf8');
}

type Holder = Record<string, unknown>;

/** Every object and array of a value, itself first. */
function holdersOf(value: unknown): Holder[] {
  if (typeof value !== 'object' || value === null) return [];
  return [value as Holder, ...Object.values(value).flatMap(holdersOf)];
}

/** A change inside a copy of the value, at whatever holder `where` comes to. */
function inside(
  where: number,
  change: (holder: Holder, key: string | undefined) => void,
): BodyChange {
  return (body) => {
    if (!('value' in body)) return body;
    const value = structuredClone(body.value);
    const holders = holdersOf(value);
    const holder = holders[where % (holders.length || 1)];
    if (!holder) return body;
    const keys = Object.keys(holder);
    change(holder, keys[Math.floor(where / 7) % (keys.length || 1)]);
    return { value };
  };
}

const ofValues = fc.tuple(fc.nat(9999), hostileName, hostileValue, fc.nat(4)).map(
  ([where, name, value, kind]): BodyChange =>
    inside(where, (holder, key) => {
      if (kind === 0 && key !== undefined) delete holder[key];
      else if (kind === 1 && Array.isArray(holder)) holder.push(...holder, ...holder);
      else if (kind === 1) Object.defineProperty(holder, name, { value, enumerable: true });
      else if (kind === 2 && key !== undefined) holder[key] = [holder[key]];
      else if (key !== undefined) holder[key] = value;
    }),
);

const leaf = /:(?:"(?:[^"\\]|\\.)*"|-?\d[\d.eE+-]*|true|false|null)/g;

const ofTexts = fc.tuple(fc.nat(9999), fc.constantFrom(...fragments), fc.nat(6)).map(
  ([where, fragment, kind]): BodyChange =>
    (body) => {
      if ('bytes' in body) return body;
      const text = textOf(body);
      const at = where % (text.length || 1);
      if (kind === 0) return { text: text.slice(0, at) };
      if (kind === 1) return { text: text + fragment };
      if (kind === 2)
        return { text: text.replace('{', `{"${where % 2 ? 'class' : '__proto__'}":1,`) };
      if (kind === 3) return { text: ' '.repeat(2000) + text };
      const leaves = [...text.matchAll(leaf)];
      const one = leaves[where % (leaves.length || 1)];
      if (!one) return { text: fragment };
      return {
        text: `${text.slice(0, one.index)}:${fragment}${text.slice(one.index + one[0].length)}`,
      };
    },
);

const ofBytes = fc.tuple(fc.nat(9999), fc.nat(255), fc.nat(4)).map(
  ([where, byte, kind]): BodyChange =>
    (body) => {
      const bytes = Buffer.from(bytesOf(body));
      const at = where % (bytes.length || 1);
      if (kind === 0) return { bytes: Buffer.concat([Buffer.from([0xef, 0xbb, 0xbf]), bytes]) };
      if (kind === 1) return { bytes: Buffer.from(bytes.toString('utf8'), 'utf16le') };
      if (kind === 2)
        return {
          bytes: Buffer.concat([bytes.subarray(0, at), Buffer.from([byte]), bytes.subarray(at)]),
        };
      if (bytes.length > 0) bytes[at] = byte;
      return { bytes };
    },
);

/** One to three changes of a body. */
export const bodyChanges: fc.Arbitrary<BodyChange[]> = fc.array(
  fc.oneof(
    { weight: 6, arbitrary: ofValues },
    { weight: 3, arbitrary: ofTexts },
    { weight: 1, arbitrary: ofBytes },
  ),
  { minLength: 1, maxLength: 3 },
);
