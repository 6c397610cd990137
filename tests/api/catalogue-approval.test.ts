import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { configure, furnish, refused } from '../support/scenario.js';

const HOUR = 3_600_000;

describe('a configuration', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const terms = (code: string, more: object = {}) => ({
    code,
    model: 'F100L',
    powerheadNumber: 'PH-100',
    lowerUnitNumber: 'LU-20',
    ...more,
  });
  const draft = (code: string, more: object = {}) =>
    plant.post('configuration', '/v1/configurations', terms(code, more));
  const drafted = async (code: string, more: object = {}) =>
    (await draft(code, more)).body.id as number;
  const edit = (id: number, version: string | null, body: object, as = 'configuration') =>
    plant.put(as, `/v1/configurations/${id}`, body, {
      headers: version === null ? {} : { 'If-Match': version },
    });
  const approve = (id: number, body: object = {}, as = 'configuration 2') =>
    plant.post(as, `/v1/configurations/${id}/approval`, body);
  const read = (id: number) => plant.get('read', `/v1/configurations/${id}`);

  it('is not approved in a version that the approver did not read', async () => {
    const id = await drafted('C-READ');
    await edit(id, '"v1"', terms('C-READ', { powerheadRevision: 'B' }));
    await refused(plant, 'version-conflict', () => approve(id, { version: 1 }));
    expect((await approve(id, { version: 2 })).body.state).toBe('approved');
  });

  it('is drafted, edited under its ETag, approved by another key, and then never changed', async () => {
    const answer = await draft('C-1', { effectiveFrom: iso(plant.now + HOUR) });
    const { id } = answer.body;
    expect(answer.headers.location).toBe(`/v1/configurations/${id}`);
    expect(answer.body).toMatchObject({
      code: 'C-1',
      revision: 1,
      state: 'draft',
      version: 1,
      draftedBy: 'configuration key',
      approvedBy: null,
      powerheadRevision: null,
      discontinued: false,
    });
    const first = await read(id);
    expect(first.headers.etag).toBe('"v1"');

    const changed = terms('C-1', { powerheadRevision: 'B', effectiveFrom: iso(plant.now + HOUR) });
    const edited = await edit(id, first.headers.etag ?? '', changed);
    expect([edited.status, edited.body.version]).toEqual([200, 2]);
    expect((await read(id)).headers.etag).toBe('"v2"');

    const approved = await approve(id);
    expect(approved.body).toMatchObject({
      state: 'approved',
      powerheadRevision: 'B',
      effectiveFrom: iso(plant.now + HOUR),
      approvedBy: 'configuration 2 key',
      approvedAt: iso(plant.now),
    });
    expect((await read(id)).body).toEqual(approved.body);
    await refused(plant, 'not-a-draft', () => edit(id, '"v3"', changed));
    await refused(plant, 'not-a-draft', () => approve(id));
  });

  it('is not overwritten unseen: an old ETag is refused, and none at all', async () => {
    const id = await drafted('C-2');
    await edit(id, '"v1"', terms('C-2', { powerheadRevision: 'A' }));
    const stale = await refused(plant, 'version-conflict', () => edit(id, '"v1"', terms('C-2')));
    expect(stale).toMatchObject({
      status: 412,
      detail: 'The draft is at version 2, not 1.',
    });
    // A weak tag never matches where a change depends on it (RFC 9110, 13.1.1).
    for (const header of ['W/"v2"', '"2"']) {
      await refused(plant, 'version-conflict', () => edit(id, header, terms('C-2')));
    }
    for (const header of [null, '*', 'v2']) {
      const problem = await refused(plant, 'precondition-required', () =>
        edit(id, header, terms('C-2')),
      );
      expect(problem.status).toBe(428);
    }
    expect((await read(id)).body).toMatchObject({ version: 2, powerheadRevision: 'A' });
  });

  it('of two edits at one version in one instant takes one', async () => {
    const id = await drafted('C-3');
    const answers = await Promise.all(
      ['A', 'B'].map((powerheadRevision) => edit(id, '"v1"', terms('C-3', { powerheadRevision }))),
    );
    expect(answers.map((one) => one.status).sort()).toEqual([200, 412]);
    expect((await read(id)).body.version).toBe(2);
  });

  it('is not approved by whoever made its last edit', async () => {
    const id = await drafted('C-4');
    const problem = await refused(plant, 'approval-by-author', () =>
      approve(id, {}, 'configuration'),
    );
    expect(problem).toMatchObject({
      status: 403,
      detail: 'This key made the last edit; another one approves.',
    });
    await edit(id, '"v1"', terms('C-4'), 'configuration 2');
    await refused(plant, 'approval-by-author', () => approve(id, {}, 'configuration 2'));
    expect((await approve(id, {}, 'configuration')).body.state).toBe('approved');
  });

  it('has one draft at a time', async () => {
    await drafted('C-5');
    await refused(plant, 'draft-exists', () => draft('C-5'));
  });

  it('is superseded by its next revision from a date on, which is not before its own', async () => {
    const id = await configure(plant, terms('C-6'), { effectiveFrom: iso(plant.now + HOUR) });
    const from = plant.now + HOUR;
    const next = await drafted('C-6', { discontinued: true });
    expect((await read(next)).body.revision).toBe(2);
    for (const effectiveFrom of [plant.now - 1, plant.now, from]) {
      const problem = await refused(plant, 'effective-date-past', () =>
        approve(next, { effectiveFrom: iso(effectiveFrom) }),
      );
      expect(problem).toMatchObject({ status: 422, earliest: iso(from + 1) });
    }
    // Without a date it takes effect as early as it may.
    expect((await approve(next)).body.effectiveFrom).toBe(iso(from + 1));
    plant.wait(HOUR);
    const inForce = async () => {
      const address = `/v1/configurations?code=C-6&inForceAt=${iso(plant.now)}`;
      return (await plant.get('read', address)).body.items.map((one: { id: number }) => one.id);
    };
    expect(await inForce()).toEqual([id]);
    plant.wait(1);
    expect(await inForce()).toEqual([]);
  });

  it('takes no effect in the past, neither by its draft’s date nor by its approval’s', async () => {
    const id = await drafted('C-7', { effectiveFrom: iso(plant.now - 1) });
    const problem = await refused(plant, 'effective-date-past', () => approve(id));
    expect(problem.detail).toBe(
      `It can take effect from ${iso(plant.now)} on, not from ${iso(plant.now - 1)}.`,
    );
    const approved = await approve(id, { effectiveFrom: iso(plant.now) });
    expect(approved.body.effectiveFrom).toBe(iso(plant.now));
  });

  it('that cannot be right is refused with every reason and its pointer', async () => {
    const body = {
      code: 'C-8',
      model: 'F0',
      powerheadNumber: 'LU-20',
      powerheadRevision: 'A',
      lowerUnitNumber: 'LU-99',
    };
    const problem = await refused(plant, 'configuration-faulty', () =>
      plant.post('configuration', '/v1/configurations', body),
    );
    expect(problem.errors).toEqual([
      { pointer: '/model', detail: 'there is no model F0' },
      { pointer: '/powerheadNumber', detail: 'part LU-20 is no powerhead' },
      { pointer: '/lowerUnitNumber', detail: 'there is no part LU-99' },
    ]);
    const contradicting = await refused(plant, 'configuration-faulty', () =>
      draft('C-8', { powerheadRevision: 'Z', attributes: { shaftLength: '635 mm' } }),
    );
    expect(contradicting.errors).toEqual([
      { pointer: '/powerheadRevision', detail: 'there is no part PH-100 revision Z' },
      { pointer: '/attributes/shaftLength', detail: 'the model has 508 mm, not 635 mm' },
    ]);
  });

  it('keeps its code over all edits', async () => {
    const id = await drafted('C-9');
    const problem = await refused(plant, 'configuration-faulty', () =>
      edit(id, '"v1"', terms('C-10')),
    );
    expect(problem.errors).toEqual([
      { pointer: '/code', detail: 'must stay C-9 over all revisions' },
    ]);
  });

  it('that does not exist is unknown to reading, editing and approving', async () => {
    await refused(plant, 'configuration-unknown', () => read(999_999));
    await refused(plant, 'configuration-unknown', () => edit(999_999, '"v1"', terms('C-11')));
    await refused(plant, 'configuration-unknown', () => approve(999_999));
  });
});
