import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { TestPlant } from '../support/plant.js';
import { furnish, setMotor } from '../support/scenario.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

interface Drawn {
  pressure: number;
  idle: number;
  cell: string;
  hours: number;
  daysLate: number;
}

const runs = (count: number, of: Record<'pressure' | 'idle' | 'daysLate', fc.Arbitrary<number>>) =>
  fc.array(
    fc.record<Drawn>({
      ...of,
      cell: fc.constantFrom('NORTH', 'SOUTH'),
      hours: fc.constantFrom(1, 3, 20),
    }),
    { minLength: count, maxLength: count },
  );
const tenths = (min: number, max: number) => fc.integer({ min, max }).map((n) => n / 10);

// A fifth idles too fast and fails; later most do, some with too little pressure besides.
const past = runs(45, {
  pressure: tenths(950, 1050),
  idle: fc.constantFrom(650, 655, 660, 645, 720),
  daysLate: fc.constant(0),
});
const later = runs(40, {
  pressure: fc.oneof(...Array.from({ length: 3 }, () => tenths(960, 1110)), fc.constant(40)),
  idle: fc.constantFrom(650, 720, 720),
  daysLate: fc.constantFrom(0, 0, 0, 1, 2),
});

const model = 'F100L';
const measured = { model, characteristic: 'water-pressure' };
const kinds: Record<string, unknown>[] = [
  { kind: 'individuals', ...measured, rules: 'nelson' },
  { kind: 'individuals', ...measured, cell: 'NORTH', rules: 'western-electric' },
  { kind: 'xbar-r', ...measured, subgroupSize: 2, rules: 'western-electric' },
  { kind: 'xbar-s', ...measured, subgroupSize: 3 },
  { kind: 'ewma', ...measured, weight: 0.4 },
  { kind: 'cusum', ...measured, target: 100, decisionInterval: 4 },
  { kind: 'p', model, rules: 'nelson' },
  { kind: 'u', model, rules: ['beyond-three-sigma', 'eight-on-one-side'] },
];

interface Signal {
  point: number;
  figure: string;
  rule: string;
  direction: string | null;
  value: number;
  runs: number[];
}

interface Point {
  number: number;
  signals: Omit<Signal, 'point'>[];
  runs: number[];
}

describe('signals kept as runs complete', () => {
  let plant: TestPlant;
  let motor: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    motor = (await setMotor(plant)).motor;
  });
  afterAll(() => plant.stop());

  async function carryOut({ pressure, idle, cell, hours, daysLate }: Drawn): Promise<number> {
    plant.wait(hours * HOUR_MS);
    const occurredAt = new Date(plant.now - daysLate * DAY_MS).toISOString();
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', {
      motor,
      cell,
      occurredAt,
    });
    const readings = [
      { code: 'idle-speed', value: idle },
      { code: 'water-pressure', value: pressure },
      { code: 'telltale', value: true },
    ];
    await plant.make('cell', `/v1/runs/${id}/completion`, { readings, occurredAt });
    await plant.make('quality', '/v1/retests', { motor, reason: 'Next run' });
    return id;
  }

  it('are those of its points, for charts of every kind and any order of runs', async () => {
    const seen = new Map<string, number>();
    await fc.assert(
      fc.asyncProperty(past, later, async (before, after) => {
        for (const one of before) await carryOut(one);
        const charts: number[] = [];
        for (const terms of kinds) {
          const body = { ...terms, runs: 'all', baseline: { last: 10 } };
          if (terms.subgroupSize) body.baseline.last *= Number(terms.subgroupSize);
          charts.push((await plant.make<{ id: number }>('quality', '/v1/charts', body)).id);
        }
        const taken: number[] = [];
        for (const one of after) taken.push(await carryOut(one));
        for (const [i, id] of charts.entries()) {
          const page = await plant.get('read', `/v1/charts/${id}/points?limit=1000`);
          const points: Point[] = page.body.items;
          const kept: Signal[] = (await plant.get('read', `/v1/charts/${id}/signals?limit=1000`))
            .body.items;
          const again = points.flatMap(({ number, signals }) =>
            signals.map((signal) => ({ point: number, ...signal })),
          );
          expect(
            kept.map(({ point, figure, rule, direction, value, runs }) => ({
              point,
              figure,
              rule,
              direction,
              value,
              runs,
            })),
          ).toEqual(again);
          // Every run stands once, in the order of recording; a last group or day is still open.
          const plotted = points.flatMap((point) => point.runs);
          const own = taken.filter(
            (_, at) => kinds[i]?.cell !== 'NORTH' || after[at]?.cell === 'NORTH',
          );
          expect(plotted).toEqual(own.slice(0, plotted.length));
          const detail = (await plant.get('read', `/v1/charts/${id}`)).body;
          expect(detail.runsTaken).toBe(own.length);
          expect(detail.runsWaiting).toBe(own.length - plotted.length);
          const kind = String(kinds[i]?.kind);
          seen.set(kind, (seen.get(kind) ?? 0) + kept.length);
          await plant.make('quality', `/v1/charts/${id}/retirement`, { reason: 'Next life' });
        }
      }),
      { numRuns: 2, endOnFailure: true },
    );
    for (const [kind, signals] of seen) expect([kind, signals > 0]).toEqual([kind, true]);
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  }, 120_000);
});
