import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { routes } from '../../src/routes.js';
import { TestPlant } from '../support/plant.js';
import { exchange, refused } from '../support/wire.js';

const PARTS = 25;

let plant: TestPlant;
let added = 0;
beforeAll(async () => {
  plant = await TestPlant.start();
  await plant.make('configuration', '/v1/part-classes', { code: 'pump', name: 'Pump' });
  for (let i = 0; i < PARTS; i += 1) await addPart();
});
afterAll(() => plant.stop());

async function addPart(): Promise<void> {
  added += 1;
  const number = `P-${String(added).padStart(4, '0')}`;
  await plant.make('configuration', '/v1/parts', {
    number,
    revision: 'A',
    name: number,
    tracking: 'lot',
  });
}

interface Page {
  items: { number: string }[];
  next: string | null;
}

/** Follows `next` from a first address to the end, calling back after each page. */
async function walk(first: string, between: () => Promise<void> = async () => {}) {
  const pages: Page[] = [];
  let address: string | null = first;
  while (address !== null) {
    const answer = await plant.get('read', address);
    expect(answer.status, answer.text).toBe(200);
    const page = answer.body as Page;
    pages.push(page);
    address = page.next;
    if (pages.length > 200) throw new Error('the pages never end');
    await between();
  }
  return pages;
}

const numbersOf = (pages: Page[]) => pages.flatMap((page) => page.items.map((one) => one.number));

describe('pages by key', () => {
  it('are complete and without repeats, whatever their length', async () => {
    const whole = numbersOf(await walk('/v1/parts?limit=1000'));
    expect(whole).toHaveLength(added);
    expect(new Set(whole).size).toBe(added);
    for (const limit of [1, 7, added - 1, added, added + 1]) {
      const pages = await walk(`/v1/parts?limit=${limit}`);
      expect(numbersOf(pages)).toEqual(whole);
      expect(pages).toHaveLength(Math.ceil(added / limit));
    }
  });

  it('stay complete and without repeats while rows are added', async () => {
    const before = numbersOf(await walk('/v1/parts?limit=1000'));
    let more = 3;
    const pages = await walk('/v1/parts?limit=4', async () => {
      if (more > 0) await addPart();
      more -= 1;
    });
    const seen = numbersOf(pages);
    expect(seen.slice(0, before.length)).toEqual(before);
    expect(new Set(seen).size).toBe(seen.length);
    expect(seen).toHaveLength(before.length + 3);
  });

  it('hold a hundred rows unless the caller says', async () => {
    while (added <= 100) await addPart();
    const [first, second] = await walk('/v1/parts');
    expect(first?.items).toHaveLength(100);
    expect(second?.items).toHaveLength(added - 100);
  });

  it('keep the question’s filters in the address of the next', async () => {
    const answer = await plant.get('read', '/v1/keys?limit=2', { undocumented: true });
    expect(answer.status).toBe(403);
    const keys = await plant.get('admin', '/v1/keys?limit=2');
    expect(keys.body.next).toMatch(/^\/v1\/keys\?limit=2&after=[\w-]+$/);
    const events = await plant.get('read', '/v1/events?limit=3');
    expect(events.headers.link).toBe(`<${events.body.next}>; rel="next"`);
  });

  it('also page as CSV, with the next in Link alone', async () => {
    const accept = { headers: { Accept: 'text/csv' } };
    const lines: string[] = [];
    let address: string | undefined = '/v1/parts?limit=40';
    while (address) {
      const answer = await plant.get('read', address, accept);
      lines.push(...answer.text.trim().split('\r\n').slice(1));
      address = /^<(.+)>; rel="next"$/.exec(answer.headers.link ?? '')?.[1];
    }
    expect(lines).toHaveLength(added);
    expect(new Set(lines).size).toBe(added);
  });

  it('of an empty table is one, without a next', async () => {
    const answer = await plant.get('read', '/v1/units?limit=1');
    expect(answer.body).toEqual({ items: [], next: null });
    expect(answer.headers.link).toBeUndefined();
  });
});

describe('a page’s length', () => {
  it.each(['1', '1000', '0001000'])('may be %s', async (limit) => {
    expect((await plant.get('read', `/v1/parts?limit=${limit}`)).status).toBe(200);
  });

  it.each(['0', '1001', '-1', '1.5', '1e2', 'ten', '', '9999999999', '٣'])(
    'is refused as %j',
    async (limit) => {
      const path = `/v1/parts?limit=${encodeURIComponent(limit)}`;
      const answer = await refused(plant, { path, as: 'read' }, 400, 'request-invalid');
      expect(answer.body.errors).toMatchObject([{ parameter: 'limit' }]);
    },
  );
});

describe('the place where a page begins', () => {
  const packed = (value: unknown) => Buffer.from(JSON.stringify(value)).toString('base64url');
  const bad = {
    nothing: '',
    words: 'not a cursor',
    'a bare number': '5',
    text: packed('5'),
    'a number outside a list': packed(5),
    'an empty list': packed([]),
    'two keys': packed([1, 2]),
    'text in a list': packed(['1']),
    null: packed([null]),
    'an object': packed({ id: 1 }),
    infinity: Buffer.from('[1e999]').toString('base64url'),
    'broken JSON': Buffer.from('[1').toString('base64url'),
  };
  it.each(Object.entries(bad))('is refused where it is %s', async (_name, after) => {
    const path = `/v1/parts?after=${encodeURIComponent(after)}`;
    const answer = await refused(plant, { path, as: 'read' }, 400, 'request-invalid');
    expect(answer.body.errors).toMatchObject([{ parameter: 'after' }]);
  });

  it('is refused by every paged table in the same way', async () => {
    const tables = routes.filter(
      (route) => route.kind === 'table' && route.query && 'after' in route.query.shape,
    );
    expect(tables.length).toBeGreaterThan(8);
    for (const route of tables) {
      // One that must be asked for something would be refused for that.
      if (route.path.includes('{') || !route.query?.safeParse({}).success) continue;
      const as = route.roles === 'any' ? 'read' : (route.roles[0] ?? 'read');
      const path = `${route.path}?after=nonsense`;
      const answer = await exchange(plant, { path, as });
      expect([route.path, answer.status, answer.body.type]).toEqual([
        route.path,
        400,
        '/problems/request-invalid',
      ]);
      const parameters = (answer.body.errors as { parameter: string }[]).map(
        (one) => one.parameter,
      );
      expect([route.path, parameters.includes('after')]).toEqual([route.path, true]);
    }
  });
});
