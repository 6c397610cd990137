import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, goodFastening, refused, unitDraft } from '../support/scenario.js';

const HOUR = 3_600_000;

/** The unit's own node of the as-built tree. */
async function nodeOf(plant: TestPlant, unitClass: string, serial: string) {
  const history = await plant.get('read', `/v1/history?serial=${serial}&class=${unitClass}`);
  return history.body.tree.find((node: { asked: boolean }) => node.asked);
}

describe('a unit is entered', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const post = (unitClass: 'powerhead' | 'lower-unit' | 'fuel-pump', more: object = {}) =>
    plant.post('set', '/v1/units', { ...unitDraft(unitClass), ...more });

  it('with its inspection, fastenings and lots, which all stand in its history', async () => {
    const occurredAt = iso(plant.now - HOUR);
    const draft = unitDraft('powerhead', {
      inspection: { result: 'accepted', note: 'Clean' },
      lots: [{ part: 'PRIMER', revision: '1', lot: 'PR-77' }],
      attributes: { colour: 'white' },
      station: 'BUILD-1',
      occurredAt,
    });
    const answer = await plant.post('set', '/v1/units', draft);
    expect(answer.status).toBe(201);
    expect(answer.body).toEqual({
      class: 'powerhead',
      serial: draft.serial,
      part: 'PH-100',
      partRevision: 'A',
      model: null,
      attributes: { colour: 'white' },
      state: 'accepted',
      onHold: false,
      enteredAt: occurredAt,
    });
    expect(await nodeOf(plant, 'powerhead', draft.serial)).toMatchObject({
      inspections: [{ kind: 'build record', result: 'accepted', note: 'Clean', at: occurredAt }],
      // No time of its own: it happened when the unit was built, not when that was sent.
      fastenings: [{ ...goodFastening, conforms: true, at: occurredAt }],
      lots: [{ part: 'PRIMER', partRevision: '1', lot: 'PR-77', at: occurredAt }],
    });
  });

  it('not as an accepted powerhead without its fastening results', async () => {
    const problem = await refused(plant, 'unit-invalid', () =>
      post('powerhead', { fastenings: [] }),
    );
    expect(problem.errors).toEqual([
      { pointer: '/fastenings', detail: 'is needed for an accepted powerhead' },
    ]);
    const rejected = await post('powerhead', {
      fastenings: [],
      inspection: { result: 'rejected' },
    });
    expect(rejected.body.state).toBe('rejected');
  });

  it.each([
    ['torque above', { torque: 32.01 }],
    ['torque below', { torque: 27.99 }],
    ['angle above', { angle: 95.5 }],
    ['angle below', { angle: 84.5 }],
    ['no angle in', { angle: null }],
  ])('not as accepted with %s its window', async (_name, more) => {
    const fastenings = [goodFastening, { ...goodFastening, joint: 'cylinder head 2', ...more }];
    const problem = await refused(plant, 'fastening-outside-window', () =>
      post('powerhead', { fastenings }),
    );
    expect(problem).toMatchObject({
      status: 422,
      detail: 'Not acceptable: cylinder head 2 is fastened outside its window.',
      joints: ['cylinder head 2'],
    });
    const rejected = await post('powerhead', { fastenings, inspection: { result: 'rejected' } });
    expect(rejected.status).toBe(201);
  });

  it('as accepted with values on the limits of their windows', async () => {
    const fastenings = [
      { ...goodFastening, torque: 28, angle: 95 },
      { ...goodFastening, joint: 'cylinder head 2', torque: 32, angle: 85 },
    ];
    expect((await post('powerhead', { fastenings })).status).toBe(201);
  });

  it('as accepted where a joint outside its window was fastened again later', async () => {
    const at = (ms: number) => iso(plant.now - HOUR + ms);
    const loose = { ...goodFastening, torque: 20, occurredAt: at(0) };
    const good = { ...goodFastening, occurredAt: at(1000) };
    expect((await post('powerhead', { fastenings: [loose, good] })).status).toBe(201);
    // What happened last counts, whichever was written down last.
    expect((await post('powerhead', { fastenings: [good, loose] })).status).toBe(201);
    const loosened = { ...loose, occurredAt: at(2000) };
    await refused(plant, 'fastening-outside-window', () =>
      post('powerhead', { fastenings: [loosened, good] }),
    );
  });

  it.each([
    ['a class that does not exist', { class: 'rudder' }, 'part-class-unknown'],
    ['a part that does not exist', { part: { number: 'LU-20', revision: 'Z' } }, 'part-unknown'],
    [
      'a part of another class',
      { part: { number: 'PH-100', revision: 'A' } },
      'part-not-for-class',
    ],
    ['a part tracked by lot', { part: { number: 'PRIMER', revision: '1' } }, 'part-not-for-class'],
    ['the class of motors', { class: 'motor' }, 'part-not-for-class'],
    ['a serial that no label carries', { serial: 'L 1' }, 'scan-unreadable'],
  ] as const)('not with %s', async (_name, more, slug) => {
    await refused(plant, slug, () => post('lower-unit', more));
  });

  it('not with an attribute that contradicts its part', async () => {
    const attributes = { shaftLength: '635 mm', colour: 'white' };
    const problem = await refused(plant, 'unit-invalid', () => post('lower-unit', { attributes }));
    expect(problem.errors).toEqual([
      { pointer: '/attributes/shaftLength', detail: 'the part has 508 mm, not 635 mm' },
    ]);
  });

  it('once: a serial is one unit’s within its class, and free in another', async () => {
    const serial = await enter(plant, 'lower-unit');
    const again = await refused(plant, 'serial-exists', () => post('lower-unit', { serial }));
    expect(again.detail).toBe(`A lower unit with the serial ${serial} is entered already.`);
    expect((await post('fuel-pump', { serial })).status).toBe(201);
  });

  it('not ahead of the server’s clock by more than two minutes, nor after 31 days', async () => {
    const at = (ms: number) => ({ occurredAt: iso(plant.now + ms) });
    await refused(plant, 'time-in-future', () => post('lower-unit', at(120_001)));
    const ahead = await post('lower-unit', at(120_000));
    expect(ahead.body.enteredAt).toBe(iso(plant.now));
    const days31 = 31 * 24 * HOUR;
    await refused(plant, 'time-too-old', () => post('lower-unit', at(-days31 - 1)));
    expect((await post('lower-unit', at(-days31))).status).toBe(201);
  });

  it('and found by class, state and part', async () => {
    const items = async (query: string) =>
      (await plant.get('read', `/v1/units?limit=1000&${query}`)).body.items;
    const rejected = await items('class=powerhead&state=rejected');
    expect(rejected.length).toBeGreaterThan(0);
    for (const unit of rejected) {
      expect(unit).toMatchObject({ class: 'powerhead', state: 'rejected' });
    }
    const pumps = await items('part=FP-1');
    expect(pumps.map((unit: { class: string }) => unit.class)).toEqual(['fuel-pump']);
    expect(await items('class=motor')).toEqual([]);
  });
});

describe('lots used on a unit', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const use = (unit: string, ...lots: object[]) =>
    plant.post('set', '/v1/lot-uses', { class: 'lower-unit', unit, lots });
  const primer = (lot: string) => ({ part: 'PRIMER', revision: '1', lot });

  it('are recorded later as well, each once, with the moment', async () => {
    const unit = await enter(plant, 'lower-unit', { lots: [primer('PR-1')] });
    plant.wait(1000);
    expect((await use(unit, primer('PR-2'), primer('PR-1'))).status).toBe(200);
    const { lots } = await nodeOf(plant, 'lower-unit', unit);
    expect(lots).toEqual([
      { part: 'PRIMER', partRevision: '1', lot: 'PR-1', at: iso(plant.now - 1000) },
      { part: 'PRIMER', partRevision: '1', lot: 'PR-2', at: iso(plant.now) },
    ]);
  });

  it('are refused whole where one is of no part, or of a part tracked by serial', async () => {
    const unit = await enter(plant, 'lower-unit');
    const problem = await refused(plant, 'unit-invalid', () =>
      use(
        unit,
        primer('PR-3'),
        { part: 'OIL', revision: '1', lot: 'X' },
        { part: 'FP-1', revision: 'A', lot: 'X' },
      ),
    );
    expect(problem.errors).toEqual([
      { pointer: '/lots/1', detail: 'there is no part OIL revision 1' },
      { pointer: '/lots/2', detail: 'part FP-1 is tracked by serial, not by lot' },
    ]);
    expect((await nodeOf(plant, 'lower-unit', unit)).lots).toEqual([]);
  });

  it('are not recorded on a scrapped unit', async () => {
    const unit = await enter(plant, 'lower-unit');
    await plant.make('quality', '/v1/dispositions', {
      class: 'lower-unit',
      unit,
      kind: 'scrap',
      reason: 'Dropped',
    });
    await refused(plant, 'scrapped', () => use(unit, primer('PR-4')));
  });
});
