import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { furnish, openRun, refused, setMotor, specificationDraft } from '../support/scenario.js';

const HOUR = 3_600_000;

describe('a specification', () => {
  let plant: TestPlant;
  let first: number;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    const [head] = (await plant.get('read', '/v1/specifications?model=F100L')).body.items;
    first = head.id;
  });
  afterAll(() => plant.stop());

  const post = (body: object) => plant.post('quality', '/v1/specifications', body);
  const approve = (id: number, body: object = {}, as = 'quality 2') =>
    plant.post(as, `/v1/specifications/${id}/approval`, body);
  const edit = (id: number, version: string, body: object) =>
    plant.put('quality', `/v1/specifications/${id}`, body, { headers: { 'If-Match': version } });

  /** The usual draft, with the characteristics of its first prompt replaced. */
  const withCharacteristics = (...characteristics: object[]) => ({
    ...specificationDraft(),
    prompts: [{ text: 'Run at idle', characteristics }],
  });
  const speed = {
    kind: 'measured',
    code: 'speed',
    name: 'Speed',
    unit: '/min',
    lower: 1,
    upper: 9,
  };

  it('is read back as drafted, with every default written out, in order', async () => {
    const { body, headers } = await plant.get('read', `/v1/specifications/${first}`);
    expect(headers.etag).toBe('"v2"');
    expect(body).toMatchObject({
      model: 'F100L',
      revision: 1,
      state: 'approved',
      draftedBy: 'quality key',
      approvedBy: 'quality 2 key',
    });
    expect(body.prompts[0].characteristics[1]).toEqual({
      kind: 'measured',
      code: 'water-pressure',
      name: 'Water pressure at idle',
      required: true,
      unit: 'kPa',
      lower: 50,
      upper: 150,
      guardBand: 5,
      nominal: null,
      standardUncertainty: null,
      decimals: 1,
    });
    expect(body.prompts[1]).toMatchObject({
      text: 'Look at the telltale',
      caution: null,
      characteristics: [{ kind: 'attribute', code: 'telltale', expected: true, required: true }],
    });
  });

  it('is revised: drafted, edited, approved by another key, and told apart from the one before', async () => {
    const original = specificationDraft();
    const { id, revision } = (await post({ ...original, note: 'Tighter' })).body;
    expect(revision).toBe(2);
    await refused(plant, 'draft-exists', () => post(original));
    const [idle, telltale] = original.prompts;
    const [speedAtIdle, pressure] = idle?.characteristics ?? [];
    const drips = { kind: 'attribute', code: 'drips', name: 'Drips', expected: false };
    const body = {
      ...original,
      prompts: [
        { ...idle, characteristics: [speedAtIdle, { ...pressure, upper: 140 }] },
        { ...telltale, characteristics: [...(telltale?.characteristics ?? []), drips] },
      ],
    };
    await refused(plant, 'version-conflict', () => edit(id, '"v2"', body));
    expect((await edit(id, '"v1"', { ...body, note: 'Tighter still' })).body).toMatchObject({
      version: 2,
      note: 'Tighter still',
    });
    await refused(plant, 'approval-by-author', () => approve(id, {}, 'quality'));
    await refused(plant, 'effective-date-past', () =>
      approve(id, { effectiveFrom: iso(plant.now - 1) }),
    );
    const approved = await approve(id, { effectiveFrom: iso(plant.now + HOUR) });
    expect(approved.body).toMatchObject({
      state: 'approved',
      effectiveFrom: iso(plant.now + HOUR),
    });
    await refused(plant, 'not-a-draft', () => edit(id, '"v3"', body));

    const differences = await plant.get(
      'read',
      `/v1/specifications/${id}/differences?from=${first}`,
    );
    expect(differences.body.items).toEqual([
      { code: 'water-pressure', change: 'changed', member: 'upper', from: '150', to: '140' },
      {
        code: 'drips',
        change: 'added',
        member: null,
        from: null,
        to: expect.stringContaining('"expected":false'),
      },
    ]);
    const back = await plant.get('read', `/v1/specifications/${first}/differences?from=${id}`);
    expect(back.body.items).toMatchObject([
      { code: 'water-pressure', from: '140', to: '150' },
      { code: 'drips', change: 'removed' },
    ]);
    const same = await plant.get('read', `/v1/specifications/${id}/differences?from=${id}`);
    expect(same.body.items).toEqual([]);
  });

  it('judges by the revision in force when a run starts, on either side of its date', async () => {
    // The second revision was approved an hour ahead; a set lets a second pass.
    const early = await setMotor(plant);
    const { motor } = await setMotor(plant);
    const specificationOf = async (run: number) => {
      const read = await plant.get('read', `/v1/runs/${run}`);
      return read.body.specificationRevision;
    };
    const before = await openRun(plant, early.motor);
    plant.wait(HOUR);
    const after = await openRun(plant, motor);
    expect([await specificationOf(before), await specificationOf(after)]).toEqual([1, 2]);
  });

  it.each<[string, object[], object[]]>([
    ['no characteristic at all', [], [{ pointer: '/prompts' }]],
    [
      'an unknown unit',
      [{ ...speed, unit: 'rpm' }],
      [{ pointer: '/prompts/0/characteristics/0/unit' }],
    ],
    [
      'limits upside down',
      [{ ...speed, lower: 10 }],
      [{ pointer: '/prompts/0/characteristics/0/upper' }],
    ],
    [
      'a guard band that leaves nothing',
      [{ ...speed, guardBand: 4 }],
      [{ pointer: '/prompts/0/characteristics/0/guardBand' }],
    ],
    [
      'a code twice',
      [speed, speed],
      [{ pointer: '/prompts/0/characteristics/1/code', detail: 'speed is used above already' }],
    ],
    [
      'one limit without a nominal value',
      [{ ...speed, upper: null }],
      [{ pointer: '/prompts/0/characteristics/0/nominal' }],
    ],
    [
      'a derivation of what is not there, and another fault',
      [
        {
          ...speed,
          kind: 'derived',
          code: 'mean-speed',
          derivation: { function: 'mean', inputs: ['speed', 'ghost'] },
        },
        { ...speed, lower: 9 },
      ],
      [
        { pointer: '/prompts/0/characteristics/0/derivation/inputs/1' },
        { pointer: '/prompts/0/characteristics/1/upper' },
      ],
    ],
  ])('with %s is refused with its pointer', async (_name, characteristics, errors) => {
    const problem = await refused(plant, 'specification-faulty', () =>
      post(withCharacteristics(...characteristics)),
    );
    expect(problem.status).toBe(422);
    expect(problem.errors).toMatchObject(errors);
  });

  it('of an unknown model is refused, and keeps its model over all edits', async () => {
    await refused(plant, 'model-unknown', () => post({ ...specificationDraft(), model: 'F0' }));
    const { id } = (await post(specificationDraft())).body;
    const problem = await refused(plant, 'specification-faulty', () =>
      edit(id, '"v1"', { ...specificationDraft(), model: 'F0' }),
    );
    expect(problem.errors).toEqual([{ pointer: '/model', detail: 'must stay F100L' }]);
    await refused(plant, 'specification-unknown', () =>
      plant.get('read', `/v1/specifications/${id}/differences?from=999999`),
    );
  });
});
