import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, refused } from '../support/scenario.js';

const HEADER =
  'model,prompt,caution,kind,code,name,required,unit,lower,upper,guardBand,nominal,standardUncertainty,decimals,expected,function,inputs';

/** Every kind of characteristic, every optional member, and texts that a spreadsheet would mangle. */
const everything = (model: string) => ({
  model,
  note: 'Everything',
  prompts: [
    {
      text: 'Warm up, "gently"',
      caution: '=Hot, moving parts',
      characteristics: [
        {
          kind: 'measured',
          code: 'speed',
          name: 'Speed; idle',
          unit: '/min',
          lower: 600,
          upper: 700.5,
          guardBand: 1.25,
          nominal: 650,
          standardUncertainty: 0.5,
          decimals: 0,
          required: false,
        },
        {
          kind: 'measured',
          code: 'trim',
          name: '-angle',
          unit: 'deg',
          lower: -5,
          nominal: 1e-7,
        },
        {
          kind: 'derived',
          code: 'mean-speed',
          name: 'Mean speed',
          unit: '/min',
          lower: 1,
          upper: 9000,
          derivation: { function: 'mean', inputs: ['speed', 'speed-2'] },
        },
      ],
    },
    { text: 'Wait a minute' },
    {
      text: 'Full throttle',
      characteristics: [
        { kind: 'measured', code: 'speed-2', name: 'Speed 2', unit: '/min', lower: 1, upper: 2 },
        { kind: 'attribute', code: 'leak', name: 'Leak', expected: false },
      ],
    },
  ],
});

describe('specifications as CSV', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    for (const code of ['M1', 'M2', 'M3']) {
      await plant.make('configuration', '/v1/models', { code, name: code, ratedPowerKw: 50 });
    }
  });
  afterAll(() => plant.stop());

  const send = (text: string) =>
    plant.post('quality', '/v1/specifications/import', text, {
      headers: { 'Content-Type': 'text/csv', 'Idempotency-Key': randomUUID() },
    });
  const heads = async (query = '') =>
    (await plant.get('read', `/v1/specifications?limit=1000${query}`)).body.items;
  /** Lines of a model's file: prompt, kind, code, name and then whatever columns are named. */
  const line = (cells: Record<string, string>) =>
    HEADER.split(',')
      .map((column) => cells[column] ?? '')
      .join(',');
  const measured = (more: Record<string, string>) =>
    line({
      model: 'M3',
      prompt: 'Idle',
      kind: 'measured',
      code: 'a',
      name: 'A',
      unit: 'kPa',
      lower: '1',
      upper: '2',
      ...more,
    });
  const faults = async (...lines: string[]) => {
    const before = await heads();
    const problem = await refused(plant, 'import-faulty', () =>
      send([HEADER, ...lines].join('\n')),
    );
    expect(await heads()).toEqual(before);
    return problem.errors;
  };

  it('exported are what the import takes, and say the same when they come back', async () => {
    const original = await plant.make<{ id: number; prompts: object[] }>(
      'quality',
      '/v1/specifications',
      everything('M1'),
    );
    const address = `/v1/specifications/${original.id}/lines`;
    const csv = await plant.get('read', address, { headers: { Accept: 'text/csv' } });
    expect(csv.text.split('\r\n')[0]).toBe(HEADER);
    // A text that a spreadsheet would run as a formula is defused.
    expect(csv.text).toContain("'=Hot, moving parts");
    const other = csv.text.replaceAll('\r\nM1,', '\r\nM2,');
    expect((await send(other)).body).toEqual({ drafted: 1 });
    const [head] = await heads('&model=M2');
    const copy = (await plant.get('read', `/v1/specifications/${head.id}`)).body;
    expect(copy.prompts).toEqual(original.prompts);
    expect(copy).toMatchObject({ state: 'draft', revision: 1, note: 'Imported from CSV' });
    const differences = await plant.get(
      'read',
      `/v1/specifications/${head.id}/differences?from=${original.id}`,
    );
    expect(differences.body.items).toEqual([]);
  });

  it('with bad lines report every one with line, column and why, and take none', async () => {
    expect(
      await faults(
        measured({}),
        measured({ code: 'b', lower: 'low', required: 'perhaps' }),
        measured({ code: 'c', lower: '3' }),
        measured({ code: 'd', unit: 'rpm' }),
        measured({ code: 'a' }),
        measured({ code: 'e', kind: 'guessed' }),
        measured({ code: 'f', name: '' }),
      ),
    ).toEqual([
      { line: 3, column: 'required', detail: expect.any(String) },
      { line: 3, column: 'lower', detail: expect.any(String) },
      { line: 7, column: 'kind', detail: expect.any(String) },
      { line: 8, column: 'name', detail: expect.any(String) },
      { line: 4, column: 'upper', detail: 'the upper limit is not above the lower, 3' },
      { line: 5, column: 'unit', detail: expect.stringContaining('"rpm" is not a UCUM code') },
      { line: 6, column: 'code', detail: 'a is used above already' },
    ]);
  });

  it('with a characteristic whose kind is missing are refused, not taken without it', async () => {
    expect(await faults(measured({}), measured({ code: 'b', kind: '' }))).toEqual([
      { line: 3, column: 'kind', detail: 'is needed, since code is given' },
    ]);
  });

  it('with cells that their kind has no use for are refused, not taken without them', async () => {
    const attribute = { kind: 'attribute', unit: '', lower: '', upper: '', expected: 'true' };
    expect(
      await faults(
        measured({ expected: 'true' }),
        measured({ ...attribute, code: 'b', upper: '7' }),
        measured({ code: 'c', inputs: 'a' }),
      ),
    ).toEqual([
      { line: 2, column: 'expected', detail: 'must be empty where the kind is measured' },
      { line: 3, column: 'upper', detail: 'must be empty where the kind is attribute' },
      { line: 4, column: 'inputs', detail: 'must be empty where the kind is measured' },
    ]);
  });

  it('with faulty derivations name the file’s own columns', async () => {
    const derived = (more: Record<string, string>) => measured({ kind: 'derived', ...more });
    expect(
      await faults(
        measured({}),
        derived({ code: 'b', function: 'mean', inputs: 'a ghost' }),
        derived({ code: 'c', function: 'mean', inputs: 'a', unit: 'm' }),
      ),
    ).toMatchObject([
      { line: 3, column: 'inputs', detail: 'there is no characteristic ghost' },
      { line: 4, column: expect.stringMatching(/^(unit|inputs)$/) },
    ]);
    expect(
      await faults(measured({}), derived({ code: 'b', function: 'guess', inputs: 'a' })),
    ).toMatchObject([{ line: 3, column: 'function' }]);
  });

  it('of several models are taken or refused together', async () => {
    expect(
      await faults(
        measured({}),
        measured({ model: 'M9', code: 'b' }),
        measured({ model: 'M1', code: 'c' }),
      ),
    ).toEqual([
      { line: 3, column: 'model', detail: 'there is no model M9' },
      { line: 4, column: 'model', detail: 'has a draft specification already' },
    ]);
    const taken = await send([HEADER, measured({}), measured({ model: 'F100L' })].join('\n'));
    expect(taken.body).toEqual({ drafted: 2 });
    expect(await heads('&model=M3')).toMatchObject([{ revision: 1, state: 'draft' }]);
    expect(await heads('&model=F100L&state=draft')).toMatchObject([{ revision: 2 }]);
  });
});
