import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { iso } from '../../src/time.js';
import { TestPlant } from '../support/plant.js';
import { furnish, refused } from '../support/scenario.js';

const HEADER =
  'code,model,powerheadNumber,powerheadRevision,lowerUnitNumber,lowerUnitRevision,attributes,discontinued,effectiveFrom';

describe('configurations as CSV', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const send = (text: string, as = 'configuration') =>
    plant.post(as, '/v1/configurations/import', text, {
      headers: { 'Content-Type': 'text/csv', 'Idempotency-Key': randomUUID() },
    });
  const importLines = (...lines: string[]) => send([HEADER, ...lines].join('\r\n'));
  const drafts = async () =>
    (await plant.get('read', '/v1/configurations?state=draft&limit=1000')).body.items;
  const faults = async (...lines: string[]) => {
    const before = await drafts();
    const problem = await refused(plant, 'import-faulty', () => importLines(...lines));
    expect(await drafts()).toEqual(before);
    return problem.errors;
  };

  it('are drafted a line each, and wait for approval like any draft', async () => {
    const from = iso(plant.now + 3_600_000);
    const answer = await importLines(
      'I-1,F100L,PH-100,B,LU-20,A,"{""rotation"":""right"",""colour"":""deep, blue""}",false,',
      `I-2,F100L,PH-100,,LU-20,,,,${from}`,
    );
    expect([answer.status, answer.body]).toEqual([201, { drafted: 2 }]);
    const made = (await drafts()).filter((one: { code: string }) => one.code.startsWith('I-'));
    expect(made).toMatchObject([
      {
        code: 'I-1',
        revision: 1,
        powerheadRevision: 'B',
        lowerUnitRevision: 'A',
        attributes: { rotation: 'right', colour: 'deep, blue' },
        discontinued: false,
        effectiveFrom: null,
        draftedBy: 'configuration key',
      },
      { code: 'I-2', powerheadRevision: null, attributes: {}, effectiveFrom: from },
    ]);
    await refused(plant, 'approval-by-author', () =>
      plant.post('configuration', `/v1/configurations/${made[0].id}/approval`, {}),
    );
    for (const { id } of made) {
      await plant.make('configuration 2', `/v1/configurations/${id}/approval`, {});
    }
  });

  it('exported are what the import takes, and say the same when they come back', async () => {
    const address = `/v1/configurations?inForceAt=${iso(plant.now)}&limit=1000`;
    const before = (await plant.get('read', address)).body.items;
    expect(before.length).toBeGreaterThanOrEqual(2);
    const csv = await plant.get('read', address, { headers: { Accept: 'text/csv' } });
    expect((await send(csv.text)).body).toEqual({ drafted: before.length });
    for (const { id } of await drafts()) {
      // The export's dates are past by now: history keeps them, and the new ones begin now.
      await plant.make('configuration 2', `/v1/configurations/${id}/approval`, {
        effectiveFrom: iso(plant.now + 1),
      });
    }
    plant.wait(1);
    const after = (
      await plant.get('read', `/v1/configurations?inForceAt=${iso(plant.now)}&limit=1000`)
    ).body.items;
    const said = (rows: Record<string, unknown>[]) =>
      rows
        .map(({ code, model, attributes, discontinued, ...row }) => ({
          code,
          model,
          attributes,
          discontinued,
          halves: [
            row.powerheadNumber,
            row.powerheadRevision,
            row.lowerUnitNumber,
            row.lowerUnitRevision,
          ],
        }))
        .sort((a, b) => String(a.code).localeCompare(String(b.code)));
    expect(said(after)).toEqual(said(before));
    expect(after.map((one: { revision: number }) => one.revision)).toEqual(
      before.map((one: { revision: number }) => one.revision + 1),
    );
  });

  it('with bad lines report every one with line, column and why, and take none', async () => {
    expect(
      await faults(
        'G-1,F100L,PH-100,,LU-20,,,,',
        'G 2,F100L,PH-100,,LU-20,,,maybe,soon',
        'G-3,F0,LU-20,,LU-99,Z,,,',
        'G-1,F100L,PH-100,,LU-20,,,,',
        'G-5,F100L,PH-100,,LU-20,,"{""shaftLength"":""635 mm""}",,',
        'G-6,F100L,PH-100,,LU-20,,{colour:blue},,',
        'G-7,F100L,,,LU-20,,,,',
      ),
    ).toEqual([
      { line: 3, column: 'code', detail: expect.stringContaining('letters, digits') },
      { line: 3, column: 'discontinued', detail: expect.any(String) },
      { line: 3, column: 'effectiveFrom', detail: expect.any(String) },
      { line: 4, column: 'model', detail: 'there is no model F0' },
      { line: 4, column: 'powerheadNumber', detail: 'part LU-20 is no powerhead' },
      { line: 4, column: 'lowerUnitRevision', detail: 'there is no part LU-99 revision Z' },
      { line: 5, column: 'code', detail: 'stands in line 2 already' },
      {
        line: 6,
        column: 'attributes.shaftLength',
        detail: 'the model has 508 mm, not 635 mm',
      },
      { line: 7, column: 'attributes', detail: expect.any(String) },
      { line: 8, column: 'powerheadNumber', detail: expect.stringContaining('letters, digits') },
    ]);
  });

  it('of a code that has a draft are refused at their line', async () => {
    await importLines('H-1,F100L,PH-100,,LU-20,,,,');
    expect(await faults('H-2,F100L,PH-100,,LU-20,,,,', 'H-1,F100L,PH-100,,LU-20,,,,')).toEqual([
      { line: 3, column: 'code', detail: 'has a draft already' },
    ]);
  });

  it('count lines as an editor does, past blank lines and line breaks inside a cell', async () => {
    expect(await faults('', 'J-1,F0,PH-100,,LU-20,,,,')).toMatchObject([
      { line: 3, column: 'model' },
    ]);
    const overThreeLines = 'J-2,F100L,PH-100,,LU-20,,"{\n""rotation"":""left""\n}",,';
    expect(await faults(overThreeLines, 'J-3,F0,PH-100,,LU-20,,,,')).toMatchObject([
      { line: 5, column: 'model' },
    ]);
  });

  it.each([
    ['nothing', '', [{ line: 1, detail: 'the file is empty' }]],
    ['a header alone', HEADER, [{ line: 1, detail: 'no line follows the header' }]],
    [
      'a column missing, one unknown and one twice',
      'code,model,powerheadNumber,colour,code\r\nx,x,x,x,x',
      [
        { line: 1, column: 'lowerUnitNumber', detail: 'this column is missing' },
        { line: 1, column: 'colour', detail: 'this column is not known' },
        { line: 1, column: 'code', detail: 'this column stands twice' },
      ],
    ],
    [
      'a line with a cell too few',
      `${HEADER}\r\nK-1,F100L,PH-100`,
      [{ line: 2, detail: 'has 3 cells, not 9' }],
    ],
  ])('that hold %s are refused', async (_name, text, errors) => {
    const problem = await refused(plant, 'import-faulty', () => send(text));
    expect(problem).toMatchObject({ status: 422, errors });
  });

  it('are not taken as JSON, nor from a key that may not draft', async () => {
    await refused(plant, 'media-type-unsupported', () =>
      plant.post('configuration', '/v1/configurations/import', { code: 'L-1' }),
    );
    await refused(plant, 'forbidden', () => send(HEADER, 'set'));
  });
});
