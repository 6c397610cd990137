import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, refused } from '../support/scenario.js';

// Example GTIN of the GS1 General Specifications' and Digital Link standard's own examples.
const GTIN = '09521234543213';

describe('the catalogue', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const add = (what: string, body: object) => plant.post('configuration', `/v1/${what}`, body);
  const part = (more: object = {}) => ({
    number: 'ECU-1',
    revision: 'A',
    name: 'Engine control unit',
    tracking: 'serial',
    class: 'ecu',
    ...more,
  });
  const all = async (what: string) =>
    (
      await plant.get(
        'read',
        `/v1/${what}${what === 'part-classes' || what === 'repair-codes' ? '' : '?limit=1000'}`,
      )
    ).body.items;

  it('takes a part class once, and knows motor, powerhead and lower unit from the start', async () => {
    const codes = (await all('part-classes')).map((one: { code: string }) => one.code);
    expect(codes).toEqual(expect.arrayContaining(['motor', 'powerhead', 'lower-unit']));
    const ecu = { code: 'ecu', name: 'Engine control unit' };
    expect((await add('part-classes', ecu)).body).toEqual(ecu);
    await refused(plant, 'part-class-exists', () => add('part-classes', ecu));
    await refused(plant, 'part-class-exists', () =>
      add('part-classes', { code: 'motor', name: 'Motor' }),
    );
    expect(await all('part-classes')).toContainEqual(ecu);
  });

  it('takes a part revision once, and another revision beside it', async () => {
    const answer = await add('parts', part({ gtin: GTIN, attributes: { voltage: '12 V' } }));
    expect(answer.status).toBe(201);
    expect(answer.body).toMatchObject({ number: 'ECU-1', revision: 'A', gtin: GTIN });
    expect(await all('parts')).toContainEqual(answer.body);
    await refused(plant, 'part-exists', () => add('parts', part({ name: 'Other' })));
    expect((await add('parts', part({ revision: 'B' }))).status).toBe(201);
  });

  it('takes no part of a class that does not exist', async () => {
    await refused(plant, 'part-class-unknown', () =>
      add('parts', part({ number: 'X-1', class: 'rudder' })),
    );
  });

  it.each([
    ['tracked by serial without a class', { class: undefined }, '/class'],
    ['tracked by lot with a class', { tracking: 'lot' }, '/class'],
    ['of the class of motors', { class: 'motor' }, '/class'],
    ['with a GTIN of 13 digits', { gtin: GTIN.slice(1) }, '/gtin'],
    ['with a wrong check digit in its GTIN', { gtin: '09521234543214' }, '/gtin'],
    ['with a blank in its number', { number: 'X 1' }, '/number'],
    ['with a name of blanks', { name: ' ' }, '/name'],
    ['with an attribute that is no text', { attributes: { voltage: 12 } }, '/attributes/voltage'],
  ])('takes no part %s', async (_name, more, pointer) => {
    const problem = await refused(plant, 'request-invalid', () =>
      add('parts', part({ number: 'X-2', ...more })),
    );
    expect(problem.errors).toContainEqual(expect.objectContaining({ pointer }));
  });

  it('takes a model once', async () => {
    const model = { code: 'F75L', name: 'Seventy-five', ratedPowerKw: 55.2, attributes: {} };
    const answer = await add('models', model);
    expect(answer.body).toMatchObject(model);
    await refused(plant, 'model-exists', () => add('models', { ...model, ratedPowerKw: 60 }));
    expect(await all('models')).toContainEqual(answer.body);
  });

  it.each([[0], [-1], [10_001], ['55']])('takes no model of %s kW', async (ratedPowerKw) => {
    const problem = await refused(plant, 'request-invalid', () =>
      add('models', { code: 'F0', name: 'None', ratedPowerKw }),
    );
    expect(problem.errors).toMatchObject([{ pointer: '/ratedPowerKw' }]);
  });

  it('takes a repair code once for its kind', async () => {
    const post = (body: object) => plant.post('quality', '/v1/repair-codes', body);
    const code = { kind: 'cause', code: 'seal', name: 'Seal worn' };
    expect((await post(code)).status).toBe(201);
    await refused(plant, 'repair-code-exists', () => post(code));
    expect((await post({ ...code, kind: 'symptom' })).status).toBe(201);
    expect(await all('repair-codes')).toContainEqual(code);
    await refused(plant, 'request-invalid', () => post({ ...code, kind: 'guess' }));
  });

  it('is changed by the configuration owner alone, and read by all', async () => {
    await refused(plant, 'forbidden', () => plant.post('quality', '/v1/parts', part()));
    await refused(plant, 'forbidden', () => plant.post('set', '/v1/models', {}));
    expect((await plant.get('cell', '/v1/parts')).status).toBe(200);
  });
});
