import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  failedMotor,
  failing,
  furnish,
  openRun,
  refused,
  runMotor,
  setMotor,
} from '../support/scenario.js';

const DAY_MS = 86_400_000;

interface Line {
  slice: string;
  completedRuns: number;
  passedRuns: number;
  defects: number;
  abortedRuns: number;
  runsLink: string;
}

interface Run {
  run: number;
  serial: string;
  day: string;
  cell: string;
  verdict: string | null;
  attempt: number | null;
  defects: number;
  abortReason: string | null;
}

describe('the runs behind a line of the yield', () => {
  let plant: TestPlant;
  let failed: { motor: string };
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    await runMotor(plant, (await setMotor(plant)).motor);
    failed = await failedMotor(plant);
    plant.wait(DAY_MS);
    await plant.make('quality', '/v1/retests', { motor: failed.motor, reason: 'Hose was kinked' });
    const aborted = await openRun(plant, failed.motor, 'CELL-B');
    await plant.make('cell', `/v1/runs/${aborted}/abort`, { reason: 'No water' });
    await runMotor(plant, failed.motor, failing);
    plant.wait(DAY_MS);
    await runMotor(plant, (await setMotor(plant)).motor);
  });
  afterAll(() => plant.stop());

  const linesOf = async (query: string): Promise<Line[]> =>
    (await plant.get('read', `/v1/yield/first-pass?${query}`)).body.items;
  const runsAt = async (address: string): Promise<Run[]> =>
    (await plant.get('read', address)).body.items;

  it.each(['by=day', 'by=week', 'by=month', 'by=cell', 'by=model', 'by=plant', 'by=shift'])(
    'are as many as %s counts, by how they ended',
    async (query) => {
      const lines = await linesOf(query);
      expect(lines.length).toBeGreaterThan(0);
      for (const line of lines) {
        const join = line.runsLink.includes('?') ? '&' : '?';
        const behind = (outcome: string) => runsAt(`${line.runsLink}${join}outcome=${outcome}`);
        expect(await behind('completed')).toHaveLength(line.completedRuns);
        expect(await behind('passed')).toHaveLength(line.passedRuns);
        expect(await behind('failed')).toHaveLength(line.completedRuns - line.passedRuns);
        expect(await behind('aborted')).toHaveLength(line.abortedRuns);
        const defects = (await runsAt(line.runsLink)).map((one) => one.defects);
        expect(defects.reduce((sum, n) => sum + n, 0)).toBe(line.defects);
      }
    },
  );

  it('count on their own day and in their own cell, the repeated ones too', async () => {
    const runs = await runsAt('/v1/yield/runs?fromDay=2026-03-03&untilDay=2026-03-03');
    expect(runs).toMatchObject([
      {
        serial: failed.motor,
        cell: 'CELL-B',
        attempt: null,
        verdict: null,
        abortReason: 'No water',
      },
      { serial: failed.motor, attempt: 2, verdict: 'fail', abortReason: null, shift: 'none' },
    ]);
    const open = await openRun(plant, (await setMotor(plant)).motor, 'CELL-C');
    expect(await runsAt('/v1/yield/runs?cell=CELL-C')).toEqual([]);
    await plant.make('cell', `/v1/runs/${open}/abort`, { reason: 'Wrong hose' });
    expect(await runsAt('/v1/yield/runs?cell=CELL-C')).toMatchObject([{ run: open }]);
  });

  it('come page by page, and as CSV', async () => {
    const all = await runsAt('/v1/yield/runs');
    const found: Run[] = [];
    let next: string | null = '/v1/yield/runs?limit=2';
    while (next !== null) {
      const { body } = await plant.get('read', next);
      expect(body.items.length).toBeLessThanOrEqual(2);
      found.push(...body.items);
      next = body.next;
    }
    expect(found).toEqual(all);
    const csv = await plant.get('read', '/v1/yield/runs', { headers: { Accept: 'text/csv' } });
    expect(csv.text.trimEnd().split('\r\n')).toHaveLength(all.length + 1);
  });

  it('refuses an outcome and a page that do not exist', async () => {
    const get = (query: string) => () => plant.get('read', `/v1/yield/runs?${query}`);
    await refused(plant, 'request-invalid', get('outcome=lost'));
    await refused(plant, 'request-invalid', get('after=Wzdd'));
  });
});

describe('lines of the yield', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    for (let i = 0; i < 3; i += 1) {
      await runMotor(plant, (await setMotor(plant)).motor);
      plant.wait(8 * DAY_MS);
    }
  });
  afterAll(() => plant.stop());

  it.each(['day', 'week', 'month'])('come page by page, by %s', async (by) => {
    const { body: whole } = await plant.get('read', `/v1/yield/first-pass?by=${by}`);
    expect(whole.next).toBeNull();
    const found: Line[] = [];
    let next: string | null = `/v1/yield/first-pass?by=${by}&limit=1`;
    while (next !== null) {
      const { body } = await plant.get('read', next);
      expect(body.items).toHaveLength(1);
      found.push(...body.items);
      next = body.next;
    }
    expect(found).toEqual(whole.items);
    expect(found.map((one) => one.slice)).toEqual(
      {
        day: ['2026-03-02', '2026-03-10', '2026-03-18'],
        week: ['2026-W10', '2026-W11', '2026-W12'],
      }[by] ?? ['2026-03'],
    );
  });

  it('take no page address that is not theirs', async () => {
    for (const after of ['Wzdd', 'WyJhIiwyXQ', '%00', 'W10']) {
      await refused(plant, 'request-invalid', () =>
        plant.get('read', `/v1/yield/first-pass?by=week&after=${after}`),
      );
    }
    const strange = Buffer.from('["Zebra"]').toString('base64url');
    const { body } = await plant.get('read', `/v1/yield/first-pass?by=week&after=${strange}`);
    expect(body.items).toEqual([]);
  });
});
