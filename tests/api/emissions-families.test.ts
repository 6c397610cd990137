import BetterSqlite3 from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { engineFamily } from '../support/emissions.js';
import { TestPlant } from '../support/plant.js';
import { furnish, refused } from '../support/scenario.js';

const address = '/v1/engine-families';
const { code: _code, modelYear: _year, ...terms } = engineFamily();

describe('engine families', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('configuration', '/v1/models', {
      code: 'F115L',
      name: 'Hundred and fifteen',
      ratedPowerKw: 84.6,
    });
  });
  afterAll(() => plant.stop());

  it('are recorded with their test periods, and say that all this is an aid', async () => {
    const answer = await plant.post('quality', address, engineFamily());
    expect(answer.status).toBe(201);
    expect(answer.headers.location).toBe(`${address}/TBM26-F100`);
    expect(answer.body).toEqual({
      id: 1,
      revision: 1,
      ...engineFamily(),
      periodRule:
        'A projected volume of 1600 or more, production of 200 days: 2 even test periods.',
      // 200 days: 100 each; two engines in the first period, one in the later (40 CFR 1051.310).
      testPeriods: [
        { period: 1, fromDay: '2026-03-01', untilDay: '2026-06-08', engines: 2 },
        { period: 2, fromDay: '2026-06-09', untilDay: '2026-09-16', engines: 1 },
      ],
      reason: null,
      recordedAt: new Date(plant.now).toISOString(),
      recordedBy: 'quality key',
      aid: expect.stringContaining('certifying authority decide'),
    });
    expect((await plant.get('read', `${address}/TBM26-F100`)).body).toEqual(answer.body);
  });

  it('are superseded by a revision and never edited', async () => {
    const first = (await plant.get('read', `${address}/TBM26-F100`)).body;
    const [hcNox, co] = terms.pollutants;
    const answer = await plant.post('quality', `${address}/TBM26-F100/revisions`, {
      ...terms,
      models: ['F115L', 'F100L'],
      projectedVolume: 1599,
      pollutants: [{ ...hcNox, basis: 'fel', standard: 18.2 }, co],
      reason: 'Emission limit raised',
    });
    expect(answer.status).toBe(201);
    expect(answer.body).toMatchObject({
      id: 2,
      revision: 2,
      modelYear: 2026,
      models: ['F100L', 'F115L'],
      reason: 'Emission limit raised',
      testPeriods: [{ period: 1, fromDay: '2026-03-01', untilDay: '2026-09-16', engines: 2 }],
    });
    expect(answer.body.pollutants[0]).toMatchObject({ basis: 'fel', standard: 18.2 });
    expect(answer.headers.location).toBe(`${address}/TBM26-F100?revision=2`);
    const inForce = await plant.get('read', `${address}/TBM26-F100`);
    expect(inForce.body).toEqual(answer.body);
    const before = await plant.get('read', `${address}/TBM26-F100?revision=1`);
    expect(before.body).toEqual(first);
    const all = await plant.get('read', `${address}/TBM26-F100/revisions`);
    expect(all.body.items).toEqual([first, answer.body]);
  });

  it('are listed in the revision in force, in pages and as CSV', async () => {
    const later = { productionFrom: '2026-09-17', productionUntil: '2027-06-30' };
    await plant.make('quality', address, engineFamily({ code: 'TBM27-F100', ...later }));
    const page = await plant.get('read', `${address}?limit=1`);
    expect(page.body.items).toMatchObject([{ code: 'TBM26-F100', revision: 2 }]);
    const rest = await plant.get('read', page.body.next);
    expect(rest.body.items).toMatchObject([{ code: 'TBM27-F100', revision: 1 }]);
    const csv = await plant.get('read', address, { headers: { Accept: 'text/csv' } });
    expect(csv.text.split('\r\n')[1]).toContain('2,TBM26-F100,2,2026,"[""F100L"",""F115L""]"');
  });

  const overlapping = {
    code: 'TBM26-X',
    models: ['F115L'],
    productionFrom: '2026-09-16',
    productionUntil: '2026-12-31',
  };

  it('have a model for themselves in the same days', async () => {
    const problem = await refused(plant, 'model-in-other-family', () =>
      plant.post('quality', address, engineFamily(overlapping)),
    );
    expect(problem).toMatchObject({ status: 409, model: 'F115L', family: 'TBM26-F100' });
    await refused(plant, 'model-in-other-family', () =>
      plant.post('quality', `${address}/TBM27-F100/revisions`, { ...terms, reason: 'Earlier' }),
    );
    // The day after, nothing overlaps.
    await plant.make(
      'quality',
      address,
      engineFamily({ ...overlapping, productionFrom: '2026-09-17' }),
    );
  });

  it.each([
    ['a code that is known', {}, 'engine-family-exists'],
    ['a model that is not', { code: 'N', models: ['F1'] }, 'model-unknown'],
    ['a model twice', { code: 'N', models: ['F100L', 'F100L'] }, 'request-invalid'],
    ['no pollutant', { code: 'N', pollutants: [] }, 'request-invalid'],
    [
      'a pollutant twice',
      { code: 'N', pollutants: [terms.pollutants[0], terms.pollutants[0]] },
      'request-invalid',
    ],
    [
      'a standard with more decimals than said',
      { code: 'N', pollutants: [{ ...terms.pollutants[0], standard: 16.75 }] },
      'request-invalid',
    ],
    [
      'another unit',
      { code: 'N', pollutants: [{ ...terms.pollutants[0], unit: 'g/[HP].h' }] },
      'request-invalid',
    ],
    [
      'a factor of no kind',
      { code: 'N', pollutants: [{ ...terms.pollutants[0], deterioration: { factor: 1 } }] },
      'request-invalid',
    ],
    ['days in the wrong order', { code: 'N', productionUntil: '2026-02-28' }, 'request-invalid'],
    ['production of years', { code: 'N', productionUntil: '2028-03-01' }, 'request-invalid'],
    ['production of another age', { code: 'N', productionFrom: '0001-01-01' }, 'request-invalid'],
    [
      'decimals beyond all measure',
      { code: 'N', pollutants: [{ ...terms.pollutants[0], decimals: 101 }] },
      'request-invalid',
    ],
    ['no engine', { code: 'N', projectedVolume: 0 }, 'request-invalid'],
    ['a code with a slash', { code: 'N/1' }, 'request-invalid'],
    ['a member that nobody asked for', { code: 'N', colour: 'red' }, 'request-invalid'],
  ])('with %s are refused, and nothing is recorded', async (_what, change, slug) => {
    await refused(plant, slug, () => plant.post('quality', address, engineFamily(change)));
  });

  it('that nobody recorded are unknown, whatever is asked of them', async () => {
    for (const tail of ['', '/revisions', '/draws', '/results', '/standing', '/cumsum']) {
      const answer = await plant.get('read', `${address}/NOBODY${tail}`);
      expect(answer.body.type).toBe('/problems/engine-family-unknown');
    }
    const revision = await plant.get('read', `${address}/TBM26-F100?revision=9`);
    expect(revision.body.detail).toContain('TBM26-F100 revision 9');
    await refused(plant, 'engine-family-unknown', () =>
      plant.post('quality', `${address}/NOBODY/revisions`, { ...terms, reason: 'None' }),
    );
    await refused(plant, 'request-invalid', () =>
      plant.post('quality', `${address}/TBM26-F100/revisions`, terms),
    );
  });

  it.each([
    ['UPDATE engine_families SET projected_volume = 1', 'never changes'],
    ['DELETE FROM engine_families', 'never removed'],
    ['UPDATE engine_family_pollutants SET standard = 99', 'never changes'],
    ['DELETE FROM engine_family_models', 'never changes'],
    [
      "INSERT INTO engine_family_models SELECT f.id, m.id FROM engine_families f, models m WHERE f.code = 'TBM26-X' AND m.code = 'F100L'",
      'of one engine family',
    ],
    [
      "INSERT INTO engine_families SELECT 99, code, 7, model_year, production_from, production_until, projected_volume, 'None', 1, 1 FROM engine_families WHERE id = 1",
      'count up by one',
    ],
  ])('stay, whoever writes to the file: %s', (sql, words) => {
    const db = new BetterSqlite3(plant.service.store.path);
    try {
      expect(() => db.exec(sql)).toThrow(words);
    } finally {
      db.close();
    }
  });

  it('leave a journal from which every revision is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
