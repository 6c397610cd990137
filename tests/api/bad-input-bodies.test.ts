import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, unitDraft } from '../support/scenario.js';
import { exchange, posting, refused } from '../support/wire.js';

let plant: TestPlant;
let powerhead: string;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
  powerhead = await enter(plant, 'powerhead');
});
afterAll(() => plant.stop());

const hold = (more: object = {}) => ({
  class: 'powerhead',
  unit: powerhead,
  cause: 'quality',
  reason: 'Scratched',
  ...more,
});

/** The pointers that a refusal names. */
async function pointersOf(body: unknown, path = '/v1/holds', as = 'set'): Promise<unknown[]> {
  const answer = await refused(plant, posting(as, path, body), 400, 'request-invalid');
  return (answer.body.errors as { pointer: string }[]).map((one) => one.pointer);
}

describe('a body that is not JSON', () => {
  const texts: [string, string | Buffer][] = [
    ['broken off', '{"class":'],
    ['with a trailing comma', '{"class":"powerhead",}'],
    ['with single quotes', "{'class':'powerhead'}"],
    ['a bare NaN', '{"class":NaN}'],
    ['a bare Infinity', '{"class":Infinity}'],
    ['a comment', '{/* */}'],
    ['two documents', '{}{}'],
    ['text', '"text"'],
    ['a number', '7'],
    ['null', 'null'],
    ['with a raw line feed in a text', '{"class":"a\nb"}'],
    ['with bytes that are not UTF-8', Buffer.from([0x7b, 0x22, 0xff, 0x22, 0x3a, 0x31, 0x7d])],
    ['with an overlong form', Buffer.from([0x7b, 0x22, 0xc0, 0xaf, 0x22, 0x3a, 0x31, 0x7d])],
  ];
  it.each(texts)('is refused as malformed: %s', async (_name, text) => {
    await refused(plant, posting('set', '/v1/holds', text), 400, 'body-malformed');
  });

  it('is refused where it says gzip and is none', async () => {
    const sent = posting('set', '/v1/holds', '{}', { 'Content-Encoding': 'gzip' });
    await refused(plant, sent, 400, 'body-malformed');
  });
});

describe('a body that is JSON but no object of the form', () => {
  it('is refused where it is an array', async () => {
    expect(await pointersOf('[]')).toEqual(['']);
  });

  it('is refused where there is none', async () => {
    const sent = posting('set', '/v1/holds', '');
    await refused(plant, sent, 400, 'request-invalid');
  });

  it('names every missing member', async () => {
    expect(await pointersOf({})).toEqual(['/class', '/unit', '/cause', '/reason']);
  });

  it('names a member that is not known, at the top and deep below', async () => {
    expect(await pointersOf(hold({ colour: 'red' }))).toEqual(['/colour']);
    const draft = unitDraft('powerhead');
    const nested = {
      ...draft,
      part: { ...draft.part, colour: 'red' },
      inspection: { result: 'accepted', by: 'somebody' },
      fastenings: [{ ...draft.fastenings?.[0], speed: 1 }],
    };
    expect(await pointersOf(nested, '/v1/units')).toEqual([
      '/part/colour',
      '/inspection/by',
      '/fastenings/0/speed',
    ]);
  });

  it.each(['__proto__', 'constructor', 'prototype', 'toString'])(
    'refuses the member %s like any other that is not known',
    async (name) => {
      const text = `{"${name}":{"roles":["admin"]},${JSON.stringify(hold()).slice(1)}`;
      const names = JSON.parse(text);
      expect(Object.keys(names)).toContain(name);
      expect(await pointersOf(text)).toEqual([`/${name}`]);
      expect(({} as { roles?: unknown }).roles).toBeUndefined();
    },
  );

  it.each(['constructor', 'toString', 'hasOwnProperty', '__proto__'])(
    'refuses an attribute named %s, which every object seems to have',
    async (name) => {
      const part = `{"number":"X-1","revision":"A","name":"X","tracking":"serial","class":"fuel-pump","attributes":{"${name}":"x"}}`;
      const sent = posting('configuration', '/v1/parts', part);
      await refused(plant, sent, 400, 'request-invalid');
    },
  );

  it('tells fifty faults at the most', async () => {
    const many = Object.fromEntries(Array.from({ length: 400 }, (_, i) => [`extra${i}`, i]));
    expect(await pointersOf(hold(many))).toHaveLength(50);
    const lots = Array.from({ length: 100 }, () => ({ a: 1, b: 2, c: 3 }));
    const body = { class: 'powerhead', unit: powerhead, lots };
    expect(await pointersOf(body, '/v1/lot-uses')).toHaveLength(50);
  });

  it('survives JSON nested thirty thousand deep', async () => {
    const deep = `${'['.repeat(30_000)}${']'.repeat(30_000)}`;
    expect(await pointersOf(deep)).toEqual(['']);
    const text = `{"deep":${deep},${JSON.stringify(hold()).slice(1)}`;
    expect(await pointersOf(text)).toEqual(['/deep']);
  });
});

describe('a member of the wrong type or content', () => {
  const cases: [string, object, string][] = [
    ['a number for text', { reason: 7 }, '/reason'],
    ['null for text', { reason: null }, '/reason'],
    ['an object for text', { reason: { text: 'x' } }, '/reason'],
    ['an array for a scan', { unit: ['P00001'] }, '/unit'],
    ['empty text', { reason: '' }, '/reason'],
    ['blanks alone', { reason: '   ' }, '/reason'],
    ['a line feed', { reason: 'a\nb' }, '/reason'],
    ['NUL', { reason: 'a\u0000b' }, '/reason'],
    ['an escape character', { reason: '\u001b[31mred' }, '/reason'],
    ['DEL', { reason: 'a\u007f' }, '/reason'],
    ['a C1 control', { reason: 'a\u0085b' }, '/reason'],
    ['a line separator', { reason: 'a\u2028b' }, '/reason'],
    ['half a surrogate pair', { reason: 'a\ud800b' }, '/reason'],
    ['501 characters', { reason: 'x'.repeat(501) }, '/reason'],
    ['a scan of 501 characters', { unit: 'x'.repeat(501) }, '/unit'],
    ['a code with a blank', { cause: 'not good' }, '/cause'],
    ['a code with a leading dash', { cause: '-x' }, '/cause'],
    ['a time that is a number', { occurredAt: 1 }, '/occurredAt'],
    ['a time without an offset', { occurredAt: '2026-03-02T06:00:00' }, '/occurredAt'],
    ['a time that is a day', { occurredAt: '2026-03-02' }, '/occurredAt'],
    ['30 February', { occurredAt: '2026-02-30T06:00:00Z' }, '/occurredAt'],
    ['the hour 25', { occurredAt: '2026-03-02T25:00:00Z' }, '/occurredAt'],
  ];
  it.each(cases)('is refused and pointed at: %s', async (_name, more, pointer) => {
    expect(await pointersOf(hold(more))).toEqual([pointer]);
  });

  const numbers: [string, string][] = [
    ['a number as text', '"30"'],
    ['true', 'true'],
    ['null', 'null'],
    ['one past the largest double', '1e400'],
    ['text NaN', '"NaN"'],
  ];
  it.each(numbers)('a torque is not %s', async (_name, literal) => {
    const draft = { ...unitDraft('powerhead') };
    const text = JSON.stringify(draft).replace('"torque":30', `"torque":${literal}`);
    expect(await pointersOf(text, '/v1/units')).toEqual(['/fastenings/0/torque']);
  });

  it.each(['Nm/', 'N m', 'furlong', '', 'kPa', '\u0000', 'N.m.m', '%'])(
    'a torque unit is not %j',
    async (torqueUnit) => {
      const [fastening] = unitDraft('powerhead').fastenings ?? [];
      const draft = unitDraft('powerhead', { fastenings: [{ ...fastening, torqueUnit }] });
      expect(await pointersOf(draft, '/v1/units')).toContain('/fastenings/0/torqueUnit');
    },
  );

  it('a unit of angle is needed with an angle', async () => {
    const [fastening] = unitDraft('powerhead').fastenings ?? [];
    const draft = unitDraft('powerhead', { fastenings: [{ ...fastening, angleUnit: null }] });
    expect(await pointersOf(draft, '/v1/units')).toEqual(['/fastenings/0/angleUnit']);
  });
});

describe('a body that is too large', () => {
  const large = (bytes: number) => JSON.stringify(hold({ reason: 'x'.repeat(bytes) }));

  it('is refused with 413 past 64 KiB, and with 400 below', async () => {
    await refused(plant, posting('set', '/v1/holds', large(64 * 1024)), 413, 'body-too-large');
    await refused(plant, posting('set', '/v1/holds', large(60 * 1024)), 400, 'request-invalid');
  });

  it('is refused where it only grows too large when unpacked', async () => {
    const bomb = gzipSync(large(8 * 1024 * 1024));
    expect(bomb.length).toBeLessThan(64 * 1024);
    const sent = posting('set', '/v1/holds', bomb, { 'Content-Encoding': 'gzip' });
    await refused(plant, sent, 413, 'body-too-large');
  });

  it('is refused where an import passes 2 MiB', async () => {
    const file = `code,model\n${'x'.repeat(2 * 1024 * 1024)}`;
    const sent = posting('configuration', '/v1/configurations/import', file, {
      'Content-Type': 'text/csv',
    });
    await refused(plant, sent, 413, 'body-too-large');
  });

  it('is taken where it is gzip and small', async () => {
    const body = gzipSync(JSON.stringify(hold()));
    const sent = posting('set', '/v1/holds', body, { 'Content-Encoding': 'gzip' });
    const answer = await exchange(plant, sent);
    expect(answer.status).toBe(201);
    const holds = await plant.get('read', '/v1/holds?open=true');
    expect(holds.body.items).toMatchObject([{ serial: powerhead, reason: 'Scratched' }]);
  });
});
