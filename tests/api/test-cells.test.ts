import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { failing, furnish, openRun, passing, setMotor } from '../support/scenario.js';

describe('how a test cell stands', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const cell = async (name: string) =>
    (await plant.get('read', `/v1/test-cells/${encodeURIComponent(name)}`)).body;
  const batch = (run: number, sequence: number, readings: object[]) =>
    plant.make('cell', `/v1/runs/${run}/batches`, { sequence, readings });

  it('is empty before anything ran in it', async () => {
    expect(await cell('C/1')).toEqual({ cell: 'C/1', run: null, lastRun: null, cellNotices: [] });
  });

  it('has an open run with its readings as they would be judged, and what it lacks', async () => {
    const run = await openRun(plant, (await setMotor(plant)).motor, 'C-2');
    expect((await cell('C-2')).run).toMatchObject({
      id: run,
      state: 'open',
      readings: 0,
      lastBatch: 0,
      outstanding: ['idle-speed', 'water-pressure', 'telltale'].map((code) => ({
        code,
        reason: 'no reading was posted',
      })),
    });
    await batch(run, 3, [{ code: 'water-pressure', value: 52 }]);
    const { readings, lastBatch, judgements, outstanding } = (await cell('C-2')).run;
    expect({ readings, lastBatch }).toEqual({ readings: 1, lastBatch: 3 });
    expect(outstanding.map((one: { code: string }) => one.code)).toEqual([
      'idle-speed',
      'telltale',
    ]);
    // Limits 50 to 150 with a guard band of 5 (scenario.ts): 52 lies in the band.
    expect(judgements).toMatchObject([
      { code: 'idle-speed', value: null, conforms: null },
      { code: 'water-pressure', value: 52, conforms: false, lower: 50, acceptLower: 55 },
      { code: 'telltale', value: null, conforms: null },
    ]);
    await batch(run, 4, passing);
    const full = (await cell('C-2')).run;
    expect(full.outstanding).toEqual([]);
    expect(full.judgements.map((one: { conforms: boolean }) => one.conforms)).toEqual([
      true,
      true,
      true,
    ]);
  });

  it('keeps the run that ended last, with what failed and the repair it opened', async () => {
    const first = await openRun(plant, (await setMotor(plant)).motor, 'C-3');
    await plant.make('cell', `/v1/runs/${first}/abort`, { reason: 'Gas alarm' });
    expect(await cell('C-3')).toMatchObject({
      run: null,
      lastRun: { id: first, state: 'aborted', abortReason: 'Gas alarm', failed: [], repair: null },
    });
    plant.wait(1000);
    const second = await openRun(plant, (await setMotor(plant)).motor, 'C-3');
    const { repair } = await plant.make<{ repair: number }>(
      'cell',
      `/v1/runs/${second}/completion`,
      { readings: failing },
    );
    expect((await cell('C-3')).lastRun).toMatchObject({
      id: second,
      verdict: 'fail',
      failed: [{ code: 'water-pressure', value: 20 }],
      repair,
    });
  });

  it('says what is amiss with the cell', async () => {
    const { motor } = await setMotor(plant);
    await plant.make('quality', '/v1/reference-motors', {
      motor,
      intervalHours: 24,
      cells: ['C-4'],
      reason: 'Gauge study',
    });
    plant.wait(25 * 60 * 60 * 1000);
    expect((await cell('C-4')).cellNotices).toMatchObject([
      { kind: 'reference-overdue', referenceMotor: motor },
    ]);
  });
});
