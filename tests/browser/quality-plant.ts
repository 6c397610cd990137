import { TestPlant } from '../support/plant.js';
import { enter, furnish, order, specificationDraft } from '../support/scenario.js';

const HOUR_MS = 60 * 60 * 1000;
const DAY_MS = 24 * HOUR_MS;
/** Flow rates of ten batches, NIST/SEMATECH e-Handbook 6.3.2.2, and 50: here pressures in kPa. */
const flow = [99.6, 97.6, 99.9, 101.3, 97.8, 101.2, 102.6, 102.4, 103.6, 102.1];
const cells = ['C-1', 'C-2', 'C-3'];

/** What the tests of the screen ask about: made once for all of them. */
export interface QualityPlant {
  plant: TestPlant;
  /** The motor whose idle speed is beyond the control limits. */
  outlier: string;
  /** Motors whose first run failed, in their order. */
  failed: string[];
  chart: number;
  draft: number;
}

/**
 * Forty motors on nine days in three cells: every seventh of the first thirty fails for its water
 * pressure, three of the four that fail are repaired and run again, and one fails again. A control
 * chart of idle speed is open from the thirty-first on; the thirty-eighth is far beyond its limits.
 */
export async function makeQualityPlant(): Promise<QualityPlant> {
  const plant = await TestPlant.start();
  await furnish(plant);
  const hose = { kind: 'cause', code: 'hose', name: 'Hose loose' };
  await plant.make('quality', '/v1/repair-codes', hose);
  const bench = new Bench(plant, await order(plant, 100));
  const failed: string[] = [];
  for (let i = 0; i < 30; i += 1) {
    if (i > 0 && i % 4 === 0) plant.wait(DAY_MS);
    const isBad = i % 7 === 5;
    const pressure = isBad ? 30 : (flow[i % flow.length] ?? 0) + (i % 3 === 2 ? 4 : 0);
    const made = await bench.test(await bench.set(), i, pressure, 640 + ((i * 7) % 23));
    if (isBad) failed.push(made.motor);
    if (isBad && i < 20) await bench.repair(made, i === 5);
  }
  const { id: chart } = await plant.make<{ id: number }>('quality', '/v1/charts', {
    kind: 'individuals',
    model: 'F100L',
    characteristic: 'idle-speed',
    runs: 'first',
    baseline: { last: 25 },
  });
  let outlier = '';
  for (let i = 0; i < 10; i += 1) {
    plant.wait(2 * HOUR_MS);
    const motor = await bench.set();
    await bench.test(motor, i, flow[i] ?? 0, i === 7 ? 697 : 645 + ((i * 5) % 11));
    if (i === 7) outlier = motor;
  }
  const { id: draft } = await plant.make<{ id: number }>(
    'quality',
    '/v1/specifications',
    tighter(),
  );
  return { plant, outlier, failed, chart, draft };
}

interface Tested {
  motor: string;
  repair: number | null;
}

class Bench {
  constructor(
    private readonly plant: TestPlant,
    private readonly order: string,
  ) {}

  async set(): Promise<string> {
    const { plant, order } = this;
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit');
    plant.wait(1000);
    const body = { powerhead, lowerUnit, order, station: 'SET-1' };
    return (await plant.make<{ motor: string }>('set', '/v1/sets', body)).motor;
  }

  async test(motor: string, i: number, pressure: number, idle: number): Promise<Tested> {
    const body = { motor, cell: cells[i % cells.length] };
    const { id } = await this.plant.make<{ id: number }>('cell', '/v1/runs', body);
    this.plant.wait(60_000);
    const readings = [
      { code: 'idle-speed', value: idle },
      { code: 'water-pressure', value: pressure },
      { code: 'telltale', value: true },
    ];
    const path = `/v1/runs/${id}/completion`;
    const { repair } = await this.plant.make<Tested>('cell', path, { readings });
    return { motor, repair };
  }

  /** Repairs a motor and runs it again two hours later. */
  async repair({ motor, repair }: Tested, failsAgain: boolean): Promise<void> {
    const cause = failsAgain ? 'impeller' : 'hose';
    const found = { symptom: 'low-pressure', cause, action: 'replaced' };
    await this.plant.make('repair', `/v1/repairs/${repair}/closure`, found);
    this.plant.wait(2 * HOUR_MS);
    await this.test(motor, 1, failsAgain ? 31 : 100, 650);
  }
}

/** The specification of the scenario with a higher lower limit of water pressure. */
function tighter() {
  const draft = specificationDraft();
  const [, pressure] = draft.prompts[0]?.characteristics ?? [];
  Object.assign(pressure ?? {}, { lower: 93, standardUncertainty: 1 });
  return { ...draft, note: 'Tighter water pressure' };
}
