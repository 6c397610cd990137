import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { TestPlant } from '../support/plant.js';
import { furnish, passing, setMotor } from '../support/scenario.js';

const HOUR = 60 * 60 * 1000;

interface Notice {
  kind: string;
  detail: string;
  referenceMotor: string;
}

describe('what a cell is told of its reference motors', () => {
  let plant: TestPlant;
  let motor: string;
  let id: number;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  /** Tests a fresh motor in a cell and returns what its start and its completion tell. */
  async function toldWithRun(cell: string): Promise<{ start: Notice[]; completion: Notice[] }> {
    const made = await setMotor(plant);
    const run = await plant.make<{ id: number; cellNotices: Notice[] }>('cell', '/v1/runs', {
      motor: made.motor,
      cell,
    });
    const done = await plant.make<{ cellNotices: Notice[] }>(
      'cell',
      `/v1/runs/${run.id}/completion`,
      { readings: passing },
    );
    return { start: run.cellNotices, completion: done.cellNotices };
  }

  async function run(cell: string, pressure = 100, occurredAt?: number) {
    plant.wait(1000);
    return plant.make<{ id: number }>('cell', '/v1/reference-runs', {
      motor,
      cell,
      readings: [
        { code: 'idle-speed', value: 650 },
        { code: 'water-pressure', value: pressure },
        { code: 'telltale', value: true },
      ],
      ...(occurredAt === undefined ? {} : { occurredAt: new Date(occurredAt).toISOString() }),
    });
  }

  const cellLine = async (cell: string) =>
    (await plant.get('read', `/v1/reference-cells?cell=${cell}`)).body.items[0];

  it('is nothing without reference motors', async () => {
    expect(await toldWithRun('C-1')).toEqual({ start: [], completion: [] });
    expect((await plant.get('read', '/v1/reference-cells')).body.items).toEqual([]);
  });

  it('is with every run, once it has not run one within the interval of its designation', async () => {
    const made = await setMotor(plant);
    motor = made.motor;
    ({ id } = await plant.make<{ id: number }>('quality', '/v1/reference-motors', {
      motor,
      intervalHours: 24,
      cells: ['C-1', 'C-2'],
      reason: 'Compare the cells',
    }));
    const due = plant.now + 24 * HOUR;
    expect(await toldWithRun('C-1')).toEqual({ start: [], completion: [] });
    expect(await cellLine('C-1')).toEqual({
      cell: 'C-1',
      referenceMotor: id,
      motor,
      model: 'F100L',
      intervalHours: 24,
      lastRun: null,
      lastRunAt: null,
      dueAt: new Date(due).toISOString(),
      overdue: false,
      compared: null,
      shifted: false,
      shiftedOn: [],
    });
    plant.wait(due - plant.now);
    expect(await cellLine('C-1')).toMatchObject({ overdue: false });
    plant.wait(2 * HOUR + 1);
    for (let i = 0; i < 2; i += 1) {
      const told = await toldWithRun('C-1');
      const notice = {
        kind: 'reference-overdue',
        detail: `Cell C-1 has to run reference motor ${motor} every 24 hours; it was due 2 hours ago, and it has not run here yet. Run it before the next motor.`,
        referenceMotor: motor,
        dueAt: new Date(due).toISOString(),
        referenceRun: null,
        characteristics: [],
      };
      expect(told).toEqual({ start: [notice], completion: [notice] });
    }
    expect((await toldWithRun('C-3')).completion).toEqual([]);
    expect(await cellLine('C-1')).toMatchObject({ overdue: true });
  });

  it('goes away with a reference run there, and comes back an interval later', async () => {
    const first = await run('C-1');
    const at = plant.now;
    expect(await toldWithRun('C-1')).toEqual({ start: [], completion: [] });
    // The other cell has not run it.
    expect((await toldWithRun('C-2')).start).toMatchObject([{ kind: 'reference-overdue' }]);
    expect(await cellLine('C-1')).toMatchObject({
      lastRun: first.id,
      lastRunAt: new Date(at).toISOString(),
      dueAt: new Date(at + 24 * HOUR).toISOString(),
      overdue: false,
      compared: 0,
    });
    plant.wait(25 * HOUR);
    const { start } = await toldWithRun('C-1');
    expect(start).toMatchObject([{ kind: 'reference-overdue', referenceRun: first.id }]);
    expect(start[0]?.detail).toContain(`its last run here, ${first.id}, was 25 hours ago`);
  });

  it('counts the interval from when a run happened, and a late record replaces no later run', async () => {
    const happened = plant.now - 3 * HOUR;
    const late = await run('C-1', 100, happened);
    expect(await cellLine('C-1')).toMatchObject({
      lastRun: late.id,
      dueAt: new Date(happened + 24 * HOUR).toISOString(),
    });
    const older = await run('C-1', 100, happened - HOUR);
    expect(older.id).toBeGreaterThan(late.id);
    expect(await cellLine('C-1')).toMatchObject({ lastRun: late.id });
  });

  it('says how far a shifted cell reads off, with every run, until it reads within again', async () => {
    // Three runs are recorded; with seven more the history has its ten.
    for (const [i, pressure] of [98, 99, 101, 102, 98, 102, 100].entries()) {
      await run(i % 2 === 0 ? 'C-2' : 'C-1', pressure);
    }
    expect(await toldWithRun('C-1')).toEqual({ start: [], completion: [] });
    const off = await run('C-1', 120);
    // 100 four times and 98, 99, 101, 102, 98, 102: mean 100, s² = 18/9. One characteristic
    // varies, at 0.01; t(0.995, 9) = 3.250 (printed table): 100 ± 3.250 √2 √1.1 = ± 4.820.
    for (let i = 0; i < 2; i += 1) {
      const { start, completion } = await toldWithRun('C-1');
      expect(start).toEqual(completion);
      expect(start).toMatchObject([
        {
          kind: 'reference-shifted',
          referenceMotor: motor,
          referenceRun: off.id,
          characteristics: ['water-pressure'],
        },
      ]);
      expect(start[0]?.detail).toMatch(
        /^Cell C-1 reads reference motor \S+ off its accepted history in reference run \d+: water-pressure 120 kPa \(accepted 95\.1\d* to 104\.8\d*\)\. Call quality/,
      );
    }
    expect(await cellLine('C-1')).toMatchObject({
      shifted: true,
      shiftedOn: ['water-pressure'],
      compared: 1,
    });
    // What another cell reads says nothing of this one.
    await run('C-2', 101);
    expect((await toldWithRun('C-2')).start).toEqual([]);
    expect((await toldWithRun('C-1')).start).toMatchObject([{ kind: 'reference-shifted' }]);
    await run('C-1', 101);
    expect(await toldWithRun('C-1')).toEqual({ start: [], completion: [] });
    expect(await cellLine('C-1')).toMatchObject({ shifted: false, shiftedOn: [] });
  });

  it('says both where a shifted cell is overdue too, and says it on taking a run over', async () => {
    await run('C-2', 80);
    plant.wait(25 * HOUR);
    const { start } = await toldWithRun('C-2');
    expect(start.map((one) => one.kind)).toEqual(['reference-overdue', 'reference-shifted']);
    const made = await setMotor(plant);
    const open = await plant.make<{ id: number }>('cell', '/v1/runs', {
      motor: made.motor,
      cell: 'C-9',
    });
    const taken = await plant.post('cell', `/v1/runs/${open.id}/resumption`, { cell: 'C-2' });
    expect(taken.body.cellNotices).toEqual(start);
    await plant.make('cell', `/v1/runs/${open.id}/abort`, { reason: 'Enough' });
  });

  it('follows the schedule: a new cell has the interval from then, one taken off is left alone', async () => {
    const answer = await plant.post('quality', `/v1/reference-motors/${id}/schedule`, {
      intervalHours: 48,
      cells: ['C-3', 'C-1'],
      reason: 'C-2 is rebuilt',
    });
    expect(answer.body).toMatchObject({ intervalHours: 48, cells: ['C-1', 'C-3'] });
    const changedAt = plant.now;
    expect((await toldWithRun('C-2')).start).toEqual([]);
    expect(await cellLine('C-2')).toBeUndefined();
    expect(await cellLine('C-3')).toMatchObject({
      dueAt: new Date(changedAt + 48 * HOUR).toISOString(),
    });
    const { lastRunAt, dueAt } = await cellLine('C-1');
    expect(Date.parse(dueAt) - Date.parse(lastRunAt)).toBe(48 * HOUR);
    // C-2 comes back: its last run and its shift are known, but it has the interval from now.
    plant.wait(HOUR);
    await plant.make('quality', `/v1/reference-motors/${id}/schedule`, {
      intervalHours: 24,
      cells: ['C-1', 'C-2', 'C-3'],
      reason: 'C-2 is back',
    });
    expect(await cellLine('C-2')).toMatchObject({
      dueAt: new Date(plant.now + 24 * HOUR).toISOString(),
      overdue: false,
      shifted: true,
    });
    expect(await cellLine('C-3')).toMatchObject({
      dueAt: new Date(changedAt + 24 * HOUR).toISOString(),
    });
  });

  it('is a table in pages and as CSV', async () => {
    const page = await plant.get('read', '/v1/reference-cells?limit=2');
    const rest = await plant.get('read', page.body.next);
    const cells = [...page.body.items, ...rest.body.items].map((one: { cell: string }) => one.cell);
    expect(cells).toEqual(['C-1', 'C-2', 'C-3']);
    const csv = await plant.get('read', '/v1/reference-cells', {
      headers: { Accept: 'text/csv' },
    });
    expect(csv.text.split('\r\n')[0]).toContain('cell,referenceMotor,motor');
    expect(csv.text).toContain('"[""water-pressure""]"');
  });

  it('ends with the retirement', async () => {
    plant.wait(100 * HOUR);
    expect((await toldWithRun('C-1')).start).toHaveLength(1);
    await plant.make('quality', `/v1/reference-motors/${id}/retirement`, { reason: 'Worn' });
    expect(await toldWithRun('C-1')).toEqual({ start: [], completion: [] });
    expect(await toldWithRun('C-2')).toEqual({ start: [], completion: [] });
    expect((await plant.get('read', '/v1/reference-cells')).body.items).toEqual([]);
  });

  it('leaves a journal from which every standing is rebuilt', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
