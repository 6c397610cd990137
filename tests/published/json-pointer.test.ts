/**
 * JSON Pointers as RFC 6901 describes them. The document and the pointers of the first
 * test are those of its section 5, as printed at rfcinfo.com/rfc-6901.
 */
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { parsePart } from '../../src/http/validate.js';
import { type Fault, Problem } from '../../src/problems.js';

/** The pointers at which a schema faults a value. */
function pointersOf(schema: z.ZodType, value: unknown): (string | undefined)[] {
  try {
    parsePart(schema, value, 'body');
  } catch (error) {
    if (error instanceof Problem) {
      return (error.extensions.errors as Fault[]).map((one) => one.pointer);
    }
    throw error;
  }
  return [];
}

/** Evaluates a pointer step by step (RFC 6901, section 4). */
function evaluate(document: unknown, pointer: string): unknown {
  const steps = pointer.split('/').slice(1);
  const plain = steps.map((step) => step.replaceAll('~1', '/').replaceAll('~0', '~'));
  return plain.reduce((value, step) => (value as Record<string, unknown>)[step], document);
}

const example = {
  foo: ['bar', 'baz'],
  '': 0,
  'a/b': 1,
  'c%d': 2,
  'e^f': 3,
  'g|h': 4,
  'i\\j': 5,
  'k"l': 6,
  ' ': 7,
  'm~n': 8,
};

describe('RFC 6901', () => {
  it('section 5: the members of its example are pointed at as it prints them', () => {
    const wrong = z.object(
      Object.fromEntries(Object.keys(example).map((name) => [name, z.boolean()])),
    );
    expect(pointersOf(wrong, example)).toEqual([
      '/foo',
      '/',
      '/a~1b',
      '/c%d',
      '/e^f',
      '/g|h',
      '/i\\j',
      '/k"l',
      '/ ',
      '/m~0n',
    ]);
    const items = z.looseObject({ foo: z.array(z.literal('baz')) });
    expect(pointersOf(items, example)).toEqual(['/foo/0']);
    expect(pointersOf(z.string(), example)).toEqual(['']);
  });

  it('section 3: ~ and / are escaped, the tilde first, and nothing else', () => {
    const strict = z.strictObject({});
    for (const [name, pointer] of [
      ['~', '/~0'],
      ['/', '/~1'],
      ['~1', '/~01'],
      ['~/~', '/~0~1~0'],
      ['é%20#', '/é%20#'],
    ] as const) {
      expect(pointersOf(strict, { [name]: 1 })).toEqual([pointer]);
    }
  });

  it('section 4: each pointer leads back to the member at fault', () => {
    const shape = z.strictObject({ list: z.array(z.strictObject({ 'x/~y': z.number() })) });
    const sent = { list: [{ 'x/~y': 1 }, { 'x/~y': 'two' }, { 'x/~y': 3, more: 'three' }] };
    const found = pointersOf(shape, sent).map((pointer) => evaluate(sent, pointer ?? ''));
    expect(found).toEqual(['two', 'three']);
  });
});
