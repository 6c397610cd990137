import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { checkAddress, expectRefusal } from '../support/refused-set.js';
import { enter, furnish, order } from '../support/scenario.js';

const GS = '\u001d';
const RS = '\u001e';
const EOT = '\u0004';
// Example GTIN of the GS1 General Specifications' and Digital Link standard's own examples.
const GTIN = '09521234543213';
// The same with its last digit but one changed and the check digit made right again.
const OTHER_GTIN = '09521234543220';

describe('one unit, whatever the scanner sends of its label', () => {
  let plant: TestPlant;
  let powerhead: string;
  let lowerUnit: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await plant.make('configuration', '/v1/parts', {
      number: 'PH-100',
      revision: 'C',
      name: 'Powerhead 100',
      tracking: 'serial',
      class: 'powerhead',
      gtin: GTIN,
    });
    powerhead = await enter(plant, 'powerhead', { part: { number: 'PH-100', revision: 'C' } });
    lowerUnit = await enter(plant, 'lower-unit');
    await order(plant, 5);
  });
  afterAll(() => plant.stop());

  const forms: [string, (serial: string) => string][] = [
    ['a plain serial', (serial) => serial],
    ['a plain serial with the scanner’s line end', (serial) => `${serial}\r\n`],
    ['a GS1 element string with its symbology', (serial) => `]d201${GTIN}21${serial}`],
    ['a GS1 element string with separators', (serial) => `01${GTIN}10LOT7${GS}21${serial}`],
    ['a GS1 element string in brackets', (serial) => `(01)${GTIN}(21)${serial}`],
    ['a GS1 Digital Link', (serial) => `https://example.com/01/${GTIN}/21/${serial}`],
    [
      'an ISO/IEC 15434 message',
      (serial) => `[)>${RS}06${GS}1PPH-100${GS}2PC${GS}S${serial}${RS}${EOT}`,
    ],
  ];

  it.each(forms)('%s names it in the dry check', async (_name, form) => {
    const check = await plant.get('read', checkAddress({ powerhead: form(powerhead), lowerUnit }));
    expect(check.body).toMatchObject({ wouldSet: true, powerhead, lowerUnit });
  });

  it('a label with another GTIN than the part’s is refused with both', async () => {
    await expectRefusal(
      plant,
      { powerhead: `(01)${OTHER_GTIN}(21)${powerhead}`, lowerUnit },
      {
        slug: 'scan-part-mismatch',
        status: 409,
        detail: `The label of ${powerhead} names GTIN ${OTHER_GTIN}, but it is recorded as PH-100 revision C, GTIN ${GTIN}.`,
        units: [powerhead, lowerUnit],
      },
    );
  });

  it('each form sets it once: after the first, all say in which motor it is', async () => {
    const scanned = `(01)${GTIN}(21)${powerhead}`;
    const set = await plant.post('set', '/v1/sets', {
      powerhead: scanned,
      lowerUnit,
      station: 'SET-1',
    });
    expect(set.status).toBe(201);
    expect(set.body.powerhead).toBe(powerhead);
    const attempts = (await plant.get('read', '/v1/set-attempts?outcome=set')).body.items;
    expect(attempts).toMatchObject([
      { powerhead: scanned, lowerUnit, motor: set.body.motor, detail: set.body.motor },
    ]);
    for (const [, form] of forms) {
      const check = await plant.get(
        'read',
        checkAddress({ powerhead: form(powerhead), lowerUnit }),
      );
      expect(check.body).toMatchObject({
        type: '/problems/already-installed',
        parentSerial: set.body.motor,
      });
    }
  });
});

describe('a unit entered from its label', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const entry = (serial: string, more: object = {}) => ({
    class: 'lower-unit',
    serial,
    inspection: { result: 'accepted' },
    ...more,
  });
  const label = (...fields: string[]) => `[)>${RS}06${GS}${fields.join(GS)}${RS}${EOT}`;

  it('takes part number and revision from it', async () => {
    const answer = await plant.post('set', '/v1/units', entry(label('SL-9', '1PLU-20', '2PA')));
    expect(answer.status).toBe(201);
    expect(answer.body).toMatchObject({ serial: 'L-9', part: 'LU-20', partRevision: 'A' });
  });

  it.each([
    ['another part', label('SL-10', '1PLU-25', '2PA')],
    ['another revision', label('SL-10', '1PLU-20', '2PB')],
  ])('is refused where the label names %s than the request', async (_name, serial) => {
    const events = plant.eventCount();
    const body = entry(serial, { part: { number: 'LU-20', revision: 'A' } });
    const answer = await plant.post('set', '/v1/units', body);
    expect([answer.status, answer.body.type]).toEqual([409, '/problems/scan-part-mismatch']);
    expect(answer.body.detail).toBe('The label names another part than LU-20 revision A.');
    expect(plant.eventCount()).toBe(events);
  });

  it('is refused where neither label nor request names the part', async () => {
    const answer = await plant.post('set', '/v1/units', entry('L-11'));
    expect([answer.status, answer.body.type]).toEqual([404, '/problems/part-unknown']);
  });
});
