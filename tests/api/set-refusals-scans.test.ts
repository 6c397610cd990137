import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { attemptsOf, expectRefusal } from '../support/refused-set.js';
import { enter, furnish, order } from '../support/scenario.js';

const GS = '\u001d';
const RS = '\u001e';
const EOT = '\u0004';
/** An ISO/IEC 15434 format 06 message with ANSI MH10.8.2 identifiers. */
const label = (...fields: string[]) => `[)>${RS}06${GS}${fields.join(GS)}${RS}${EOT}`;

describe('a set whose scans are no good is refused, and', () => {
  let plant: TestPlant;
  let powerhead: string;
  let lowerUnit: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    powerhead = await enter(plant, 'powerhead');
    lowerUnit = await enter(plant, 'lower-unit');
    await order(plant, 5);
  });
  afterAll(() => plant.stop());

  it('a scan that cannot be read says what to do with the label', async () => {
    await expectRefusal(
      plant,
      { powerhead: 'P 0*1', lowerUnit },
      {
        slug: 'scan-unreadable',
        status: 422,
        detail:
          'A serial holds only letters, digits and - . _ / + and this one holds something else: scan again, or type the serial as printed.',
        units: [lowerUnit],
      },
    );
  });

  it('a label of a lot says that it carries no serial', async () => {
    await expectRefusal(
      plant,
      { powerhead, lowerUnit: label('1TLOT-7') },
      {
        slug: 'scan-unreadable',
        status: 422,
        detail: 'This label carries no serial: scan the label with the serial.',
        units: [powerhead],
      },
    );
  });

  it('an unknown serial is named, for either half', async () => {
    await expectRefusal(
      plant,
      { powerhead: 'P-GHOST', lowerUnit },
      {
        slug: 'serial-unknown',
        status: 404,
        detail: 'No powerhead has the serial P-GHOST.',
        serial: 'P-GHOST',
        units: [lowerUnit],
      },
    );
    await expectRefusal(
      plant,
      { powerhead, lowerUnit: 'L-GHOST' },
      {
        slug: 'serial-unknown',
        status: 404,
        detail: 'No lower unit has the serial L-GHOST.',
        serial: 'L-GHOST',
        units: [powerhead],
      },
    );
  });

  it('a serial in the wrong case is unknown, for case is part of a serial', async () => {
    await expectRefusal(
      plant,
      { powerhead: powerhead.toLowerCase(), lowerUnit },
      {
        slug: 'serial-unknown',
        status: 404,
        detail: `No powerhead has the serial ${powerhead.toLowerCase()}.`,
        units: [lowerUnit],
      },
    );
  });

  it('swapped fields say which was scanned where, and both units remember it', async () => {
    await expectRefusal(
      plant,
      { powerhead: lowerUnit, lowerUnit: powerhead },
      {
        slug: 'wrong-class',
        status: 409,
        detail: `${lowerUnit} is a lower unit; scan the powerhead here.`,
        expectedClass: 'powerhead',
        foundClass: 'lower-unit',
        units: [powerhead, lowerUnit],
      },
    );
    const history = await plant.get('read', `/v1/history?serial=${powerhead}`);
    expect(history.body.timeline.at(-1)).toMatchObject({ kind: 'pair.refused', station: 'SET-9' });
  });

  it('the same label scanned into both fields is the wrong class for one', async () => {
    await expectRefusal(
      plant,
      { powerhead, lowerUnit: powerhead },
      {
        slug: 'wrong-class',
        status: 409,
        detail: `${powerhead} is a powerhead; scan the lower unit here.`,
        expectedClass: 'lower-unit',
        foundClass: 'powerhead',
        units: [powerhead],
      },
    );
  });

  it('a component scanned where a half belongs is the wrong class', async () => {
    const pump = await enter(plant, 'fuel-pump');
    await expectRefusal(
      plant,
      { powerhead: pump, lowerUnit },
      {
        slug: 'wrong-class',
        status: 409,
        detail: `${pump} is a fuel pump; scan the powerhead here.`,
        foundClass: 'fuel-pump',
        units: [pump, lowerUnit],
      },
    );
  });

  it('a label with another part number than the record names both', async () => {
    await expectRefusal(
      plant,
      { powerhead: label(`S${powerhead}`, '1PPH-900'), lowerUnit },
      {
        slug: 'scan-part-mismatch',
        status: 409,
        detail: `The label of ${powerhead} names PH-900, but it is recorded as PH-100 revision A.`,
        serial: powerhead,
        units: [powerhead, lowerUnit],
      },
    );
  });

  it('a label with another revision than the record names both revisions', async () => {
    await expectRefusal(
      plant,
      { powerhead: label(`S${powerhead}`, '1PPH-100', '2PB'), lowerUnit },
      {
        slug: 'scan-part-mismatch',
        status: 409,
        detail: `The label of ${powerhead} names PH-100, revision B, but it is recorded as PH-100 revision A.`,
        units: [powerhead, lowerUnit],
      },
    );
  });

  it('a refused set sent again under its key is answered the same and recorded once', async () => {
    const headers = { 'Idempotency-Key': 'beeped-twice' };
    const body = { powerhead: 'P-GHOST', lowerUnit, station: 'SET-1' };
    const first = await plant.post('set', '/v1/sets', body, { headers });
    const attempts = await attemptsOf(plant);
    const events = plant.eventCount();
    const second = await plant.post('set', '/v1/sets', body, { headers });
    expect([second.status, second.body]).toEqual([first.status, first.body]);
    expect(second.headers['idempotency-replayed']).toBe('true');
    expect(await attemptsOf(plant)).toEqual(attempts);
    expect(plant.eventCount()).toBe(events);
  });

  it('attempts are found by station, by outcome and by time', async () => {
    const items = async (query: string) =>
      (await plant.get('read', `/v1/set-attempts?limit=1000&${query}`)).body.items as {
        outcome: string;
        station: string;
      }[];
    const all = await items('');
    const unknown = await items('outcome=serial-unknown');
    expect(unknown.length).toBe(all.filter((one) => one.outcome === 'serial-unknown').length);
    expect(unknown.length).toBeGreaterThan(0);
    expect((await items('station=SET-1')).every((one) => one.station === 'SET-1')).toBe(true);
    expect(await items('station=SET-404')).toEqual([]);
    expect(await items(`from=${new Date(plant.now + 1).toISOString()}`)).toEqual([]);
    expect(await items(`until=${new Date(plant.now + 1).toISOString()}`)).toEqual(all);
  });

  it('a time ahead of the clock is no attempt: nothing at all is recorded', async () => {
    const events = plant.eventCount();
    const occurredAt = new Date(plant.now + 121_000).toISOString();
    const answer = await plant.post('set', '/v1/sets', {
      powerhead,
      lowerUnit,
      station: 'SET-1',
      occurredAt,
    });
    expect(answer.body.type).toBe('/problems/time-in-future');
    expect(plant.eventCount()).toBe(events);
  });
});
