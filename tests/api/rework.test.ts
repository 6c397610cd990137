import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { TestPlant } from '../support/plant.js';
import { furnish, passing, refused, setMotor } from '../support/scenario.js';
import { waitUntil } from '../support/shipped.js';

type Line = Record<string, unknown>;

const water = { code: 'water-pressure', value: 20 };
const idle = { code: 'idle-speed', value: 900 };
const telltale = { code: 'telltale', value: false };
const failingOn = (...wrong: { code: string; value: number | boolean }[]) => [
  ...passing.filter((one) => !wrong.some(({ code }) => code === one.code)),
  ...wrong,
];

/** Runs a motor in a cell so that the run ends at an instant; returns the run and its repair. */
async function runUntil(
  plant: TestPlant,
  motor: string,
  cell: string,
  readings: readonly object[],
  end: string,
): Promise<{ run: number; repair: number }> {
  const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell });
  waitUntil(plant, end);
  const done = await plant.make<{ repair: number | null }>('cell', `/v1/runs/${id}/completion`, {
    readings,
  });
  return { run: id, repair: done.repair ?? 0 };
}

const replaced = { symptom: 'low-pressure', cause: 'impeller', action: 'replaced' };
const adjusted = { symptom: 'noisy', cause: 'sensor', action: 'adjusted' };

const close = (plant: TestPlant, repair: number, codes: object) =>
  plant.make('repair', `/v1/repairs/${repair}/closure`, codes);
const retest = (plant: TestPlant, motor: string) =>
  plant.make('quality', '/v1/retests', { motor, reason: 'Hose was kinked' });
const dispose = (plant: TestPlant, unit: string, kind: string) =>
  plant.make('quality', '/v1/dispositions', { class: 'motor', unit, kind, reason: 'So decided' });
const complain = async (plant: TestPlant, motor: string) =>
  (await plant.make<{ id: number }>('repair', '/v1/repairs', { motor, complaint: 'Scratched' })).id;

async function start(): Promise<TestPlant> {
  const plant = await TestPlant.start();
  await furnish(plant);
  for (const one of [
    { kind: 'symptom', code: 'noisy', name: 'Noisy signal' },
    { kind: 'cause', code: 'sensor', name: 'Sensor loose' },
    { kind: 'action', code: 'adjusted', name: 'Adjusted' },
  ]) {
    await plant.make('quality', '/v1/repair-codes', one);
  }
  return plant;
}

/**
 * Eight motors on 2 and 3 March 2026. Hours are those from a failed run's end to the next one's.
 *
 * | motor | run | cell | failed          | repair                  | next run          |
 * | ----- | --- | ---- | --------------- | ----------------------- | ----------------- |
 * | A     | A1  | A    | water           | replaced, for impeller  | 2 h, passed       |
 * | B     | B1  | A    | water           | replaced, for impeller  | 6 h, failed (B2)  |
 * | B     | B2  | B    | water           | adjusted, for sensor    | 10 h, passed      |
 * | C     | C1  | B    | water, idle     | no fault found          | 1 h, failed (C2)  |
 * | C     | C2  | A    | idle            | scrapped                | none to come      |
 * | D     | D1  | B    | telltale        | open                    | not yet           |
 * | G     | G1  | A    | idle            | concession              | none to come      |
 * | H     | H1  | A    | water           | replaced, for impeller  | not yet           |
 *
 * E passed its only run. F was repaired (replaced, for impeller) before its only run, and passed.
 * B2's failed run lies on 2 March, those of C, D, G and H on 3 March; now it is 09:00 on 3 March.
 */
describe('rework', () => {
  let plant: TestPlant;
  const serial: Record<string, string> = {};
  beforeAll(async () => {
    plant = await start();
    for (const name of 'ABCDEFGH') serial[name] = (await setMotor(plant)).motor;
    const { A = '', B = '', C = '', D = '', E = '', F = '', G = '', H = '' } = serial;
    const run = (motor: string, cell: string, readings: readonly object[], end: string) =>
      runUntil(plant, motor, cell, readings, `2026-03-${end}:00Z`);

    const a1 = await run(A, 'CELL-A', failingOn(water), '02T07:00');
    await close(plant, a1.repair, replaced);
    await run(A, 'CELL-B', passing, '02T09:00');

    const b1 = await run(B, 'CELL-A', failingOn(water), '02T10:00');
    await close(plant, b1.repair, replaced);
    const b2 = await run(B, 'CELL-B', failingOn(water), '02T16:00');
    await close(plant, b2.repair, adjusted);
    await run(B, 'CELL-A', passing, '03T02:00');

    await run(C, 'CELL-B', failingOn(water, idle), '03T03:00');
    await retest(plant, C);
    await run(C, 'CELL-A', failingOn(idle), '03T04:00');
    await dispose(plant, C, 'scrap');

    await run(D, 'CELL-B', failingOn(telltale), '03T05:00');
    await run(E, 'CELL-A', passing, '03T05:30');
    const f = await complain(plant, F);
    await close(plant, f, replaced);
    await run(F, 'CELL-B', passing, '03T06:00');
    await run(G, 'CELL-A', failingOn(idle), '03T07:00');
    await dispose(plant, G, 'concession');
    const h1 = await run(H, 'CELL-A', failingOn(water), '03T08:00');
    await close(plant, h1.repair, replaced);
    waitUntil(plant, '2026-03-03T09:00:00Z');
  });
  afterAll(() => plant.stop());

  const ask = async (address: string): Promise<Line[]> =>
    (await plant.get('read', `/v1/rework/${address}`)).body.items;
  const only = (lines: readonly Line[], ...names: string[]) =>
    lines.map((line) => names.map((name) => line[name]));
  /** What the link of a line opens: names of its motors, how many runs and how many repairs. */
  const behind = async ({ link }: Line) => {
    const lines = (await plant.get('read', String(link))).body.items as Line[];
    const count = (member: string) =>
      lines.reduce((sum, one) => sum + (one[member] as number[]).length, 0);
    const nameOf = (motor: unknown) => Object.keys(serial).find((one) => serial[one] === motor);
    return [lines.map((one) => nameOf(one.motor)).join(''), count('runs'), count('repairs')];
  };

  it('loops per motor come with share, cumulative share and mean', async () => {
    const lines = await ask('loops-per-motor');
    // Of eight motors D to H have none, A and C one, B two: four loops, half a loop a motor.
    expect(only(lines, 'loops', 'motors', 'share', 'cumulativeShare', 'meanLoops')).toEqual([
      [0, 5, 5 / 8, 5 / 8, 0.5],
      [1, 2, 2 / 8, 7 / 8, 0.5],
      [2, 1, 1 / 8, 1, 0.5],
    ]);
    expect((await behind(lines[0] as Line))[0]).toBe('DEFGH');
    expect((await behind(lines[1] as Line))[0]).toBe('AC');
    // All three completed runs of B, and its two repairs.
    expect(await behind(lines[2] as Line)).toEqual(['B', 3, 2]);
  });

  it('loops per motor go by the day and cell of the first completed run', async () => {
    const firstDay = await ask('loops-per-motor?untilDay=2026-03-02');
    expect(only(firstDay, 'loops', 'motors', 'meanLoops')).toEqual([
      [1, 1, 1.5],
      [2, 1, 1.5],
    ]);
    const cellB = await ask('loops-per-motor?cell=CELL-B&model=F100L');
    expect(only(cellB, 'loops', 'motors')).toEqual([
      [0, 2],
      [1, 1],
    ]);
    expect((await behind(cellB[0] as Line))[0]).toBe('DF');
    expect(await ask('loops-per-motor?model=F9')).toEqual([]);
  });

  it('times are of finished loops, with those that are not counted apart', async () => {
    const lines = await ask('times');
    // 1, 2, 6, 10 h: the median lies between 2 and 6, the p90 at position 2.7 from zero.
    expect(lines).toMatchObject([
      { slice: 'F100L', loops: 4, medianHours: 4, maxHours: 10, unfinished: 2, ended: 2 },
    ]);
    expect(lines[0]?.p90Hours).toBeCloseTo(6 + 0.7 * 4, 12);
    expect(await behind(lines[0] as Line)).toEqual(['ABCDGH', 8, 8]);
  });

  it('times are by cell of the failed run, or by what failed in it', async () => {
    const names = ['slice', 'loops', 'medianHours', 'maxHours', 'unfinished', 'ended'];
    expect(only(await ask('times?by=cell'), ...names)).toEqual([
      // A1 2 h, B1 6 h; H1 not yet; C2 and G1 ended.
      ['CELL-A', 2, 4, 6, 1, 2],
      // B2 10 h, C1 1 h; D1 not yet.
      ['CELL-B', 2, 5.5, 10, 1, 0],
    ]);
    expect(only(await ask('times?by=characteristic'), ...names)).toEqual([
      ['idle-speed', 1, 1, 1, 0, 2],
      ['telltale', 0, null, null, 1, 0],
      ['water-pressure', 4, 4, 10, 1, 0],
    ]);
    const [, , last] = await ask('times?by=characteristic');
    expect(await behind(last as Line)).toEqual(['ABCH', 5, 5]);
  });

  it('times go by the day of the failed run, whenever the next one came', async () => {
    const lines = await ask('times?untilDay=2026-03-02');
    expect(only(lines, 'loops', 'medianHours', 'maxHours')).toEqual([[3, 6, 10]]);
    expect(await behind(lines[0] as Line)).toEqual(['AB', 3, 3]);
    expect(only(await ask('times?fromDay=2026-03-03&cell=CELL-B'), 'loops', 'unfinished')).toEqual([
      [1, 1],
    ]);
  });

  it('shows who waits, the longest first, with what failed and where', async () => {
    const lines = await ask('waiting');
    const { D, H } = serial;
    expect(lines).toMatchObject([
      {
        ...{ motor: D, state: 'in-repair', since: '2026-03-03T05:00:00.000Z', ageHours: 4 },
        ...{ ageClass: '4-to-24-h', cell: 'CELL-B', failed: ['telltale'] },
        ...{
          complaint: 'Failed the hot test: telltale',
          link: `/v1/history?class=motor&serial=${D}`,
        },
      },
      {
        ...{ motor: H, state: 'awaiting-test', since: '2026-03-03T08:00:00.000Z', ageHours: 1 },
        ...{ ageClass: 'under-4-h', cell: 'CELL-A', failed: ['water-pressure'] },
      },
    ]);
    expect((await plant.get('read', String(lines[0]?.link))).body.unit.serial).toBe(D);
    expect(only(await ask('waiting?cell=CELL-A'), 'motor')).toEqual([[H]]);
    expect(await ask('waiting?model=F9')).toEqual([]);
  });

  it('pages through those who wait', async () => {
    const first = await plant.get('read', '/v1/rework/waiting?limit=1');
    expect(only(first.body.items, 'motor')).toEqual([[serial.D]]);
    const second = await plant.get('read', first.body.next);
    expect(only(second.body.items, 'motor')).toEqual([[serial.H]]);
    expect(second.body.next).toBeNull();
  });

  it('counts them by age class, an age on a bound in the class above', async () => {
    const lines = await ask('waiting/ages');
    expect(only(lines, 'ageClass', 'motors', 'inRepair', 'forRetest', 'share')).toEqual([
      ['under-4-h', 1, 0, 1, 0.5],
      ['4-to-24-h', 1, 1, 0, 0.5],
      ['1-to-3-d', 0, 0, 0, 0],
      ['3-to-7-d', 0, 0, 0, 0],
      ['over-7-d', 0, 0, 0, 0],
    ]);
    const { body } = await plant.get('read', String(lines[1]?.link));
    expect(only(body.items, 'motor')).toEqual([[serial.D]]);
  });

  it.each<[string, (string | number)[][], string[]]>([
    [
      'characteristic',
      [
        // A1, B1, B2, C1, H1; C1, C2, G1; D1.
        ['water-pressure', 5, 5 / 9, 5 / 9, 1],
        ['idle-speed', 3, 3 / 9, 8 / 9, 2],
        ['telltale', 1, 1 / 9, 1, 3],
      ],
      ['ABCH', 'CG', 'D'],
    ],
    [
      'cause',
      [
        // A1, B1, F, H1; B2.
        ['impeller', 4, 4 / 5, 4 / 5, 1],
        ['sensor', 1, 1 / 5, 1, 2],
      ],
      ['ABFH', 'B'],
    ],
    [
      'action',
      [
        ['replaced', 4, 4 / 5, 4 / 5, 1],
        ['adjusted', 1, 1 / 5, 1, 2],
      ],
      ['ABFH', 'B'],
    ],
    [
      'symptom',
      [
        ['low-pressure', 4, 4 / 5, 4 / 5, 1],
        ['noisy', 1, 1 / 5, 1, 2],
      ],
      ['ABFH', 'B'],
    ],
  ])('ranks by %s, each line with the motors behind it', async (of, expected, motors) => {
    const lines = await ask(`pareto?of=${of}`);
    expect(only(lines, 'category', 'count', 'share', 'cumulativeShare', 'rank')).toEqual(expected);
    for (const [i, line] of lines.entries()) {
      const [names, runs, repairs] = await behind(line);
      expect(names).toBe(motors[i]);
      expect(of === 'characteristic' ? runs : repairs).toBe(line.count);
    }
  });

  it('ranks within a cell and a window', async () => {
    // A cell knows its failed runs only, so not the repair of F.
    expect(only(await ask('pareto?of=cause&cell=CELL-A'), 'category', 'count')).toEqual([
      ['impeller', 3],
    ]);
    const late = await ask('pareto?of=cause&fromDay=2026-03-03');
    expect(only(late, 'category', 'count')).toEqual([['impeller', 2]]);
    expect((await behind(late[0] as Line))[0]).toBe('FH');
  });

  const cureNames = [
    ...['category', 'action', 'loops', 'nextRuns', 'passed', 'share'],
    ...['failedAgain', 'unfinished', 'ended'],
  ];

  it('says which action cured which failure', async () => {
    const lines = await ask('cures');
    expect(only(lines, ...cureNames)).toEqual([
      // A1 passed, in B1 water failed again, H1 has yet to run.
      ['water-pressure', 'replaced', 3, 2, 1, 0.5, 1, 1, 0],
      ['water-pressure', 'adjusted', 1, 1, 1, 1, 0, 0, 0],
    ]);
    // 1 of 2 by Wilson, z = 1.959964: (1 + z²/2 ± z·√(1/2 + z²/4)) / (2 + z²).
    expect(lines[0]?.lower).toBeCloseTo(0.0945312, 6);
    expect(lines[0]?.upper).toBeCloseTo(0.9054688, 6);
    expect(await behind(lines[0] as Line)).toEqual(['ABH', 3, 3]);
  });

  it('says which action cured which cause, of failed runs', async () => {
    const lines = await ask('cures?of=cause');
    expect(only(lines, ...cureNames)).toEqual([
      ['impeller', 'replaced', 3, 2, 1, 0.5, 1, 1, 0],
      ['sensor', 'adjusted', 1, 1, 1, 1, 0, 0, 0],
    ]);
    // Not the repair of F, which no failed run opened.
    expect(await behind(lines[0] as Line)).toEqual(['ABH', 3, 3]);
  });

  it('says what failed again', async () => {
    const lines = await ask('refails');
    const names = ['characteristic', 'failedRuns', 'nextRuns', 'failedAgain', 'share'];
    expect(only(lines, ...names, 'unfinished', 'ended')).toEqual([
      // After C1; C2 and G1 have no next run.
      ['idle-speed', 3, 1, 1, 1, 0, 2],
      ['telltale', 1, 0, 0, null, 1, 0],
      // After B1; not after A1, B2 and C1; H1 has yet to run.
      ['water-pressure', 5, 4, 1, 0.25, 1, 0],
    ]);
    expect(lines[1]).toMatchObject({ lower: null, upper: null });
    expect(await behind(lines[2] as Line)).toEqual(['B', 1, 1]);
  });

  it('says by cell where no fault was found, of those that are decided', async () => {
    const lines = await ask('no-fault-found');
    expect(only(lines, 'cell', 'failedRuns', 'closed', 'noFaultFound', 'share')).toEqual([
      // A1, B1, C2, G1, H1.
      ['CELL-A', 5, 5, 0, 0],
      // B2, C1, and D1 whose repair is open.
      ['CELL-B', 3, 2, 1, 0.5],
    ]);
    expect(lines[0]?.lower).toBe(0);
    expect(await behind(lines[1] as Line)).toEqual(['C', 1, 1]);
  });

  it.each([
    ['', 'ABCDFGH'],
    ['characteristic=idle-speed', 'CG'],
    ['characteristic=water-pressure&action=adjusted', 'B'],
    ['cause=impeller&symptom=low-pressure&cell=CELL-A', 'ABH'],
    ['outcome=concession', 'G'],
    ['afterFailedRun=false', 'F'],
    ['nextRun=passed', 'AB'],
    ['nextRun=failed', 'BC'],
    ['nextRun=failed-again', 'BC'],
    ['nextRun=failed-again&characteristic=water-pressure', 'B'],
    ['nextRun=unfinished', 'DH'],
    ['nextRun=ended', 'CG'],
    ['fromDay=2026-03-03&untilDay=2026-03-03', 'CDFGH'],
    ['loops=1', 'AC'],
    ['loops=1&cell=CELL-B', 'C'],
    ['loops=7', ''],
    ['model=F9', ''],
  ])('finds the motors of %s', async (query, names) => {
    expect((await behind({ link: `/v1/rework/motors?${query}` }))[0]).toBe(names);
  });

  it('gives each motor its runs and repairs, page by page', async () => {
    const seen: unknown[] = [];
    for (let address = '/v1/rework/motors?limit=2&characteristic=water-pressure'; address; ) {
      const { body } = await plant.get('read', address);
      expect(body.items.length).toBe(2);
      seen.push(...only(body.items, 'motor', 'state', 'loops'));
      address = body.next;
    }
    expect(seen).toEqual([
      [serial.A, 'passed', 1],
      [serial.B, 'passed', 2],
      [serial.C, 'scrapped', 1],
      [serial.H, 'awaiting-test', 0],
    ]);
    const [b] = await ask('motors?characteristic=water-pressure&cell=CELL-B&outcome=repaired');
    const run = await plant.get('read', `/v1/runs/${(b?.runs as number[] | undefined)?.[0]}`);
    expect(run.body).toMatchObject({ motor: serial.B, cell: 'CELL-B', verdict: 'fail' });
    const repair = await plant.get(
      'read',
      `/v1/repairs/${(b?.repairs as number[] | undefined)?.[0]}`,
    );
    expect(repair.body).toMatchObject({ motor: serial.B, action: 'adjusted' });
    const paged = await plant.get('read', '/v1/rework/motors?limit=1&loops=1');
    expect(only(paged.body.items, 'motor')).toEqual([[serial.A]]);
    const rest = await plant.get('read', paged.body.next);
    expect(only(rest.body.items, 'motor')).toEqual([[serial.C]]);
  });

  it.each([
    [
      'times?by=cell',
      'slice,loops,medianHours,p90Hours,maxHours,unfinished,ended,link',
      'CELL-A,2,4',
    ],
    ['pareto?of=symptom', 'category,count,share,cumulativeShare,rank,link', 'low-pressure,4,0.8'],
    [
      'waiting',
      'motor,model,state,since,ageHours,ageClass,run,cell,failed,repair,complaint,link',
      '',
    ],
    ['loops-per-motor', 'loops,motors,share,cumulativeShare,meanLoops,link', '0,5,0.625,0.625,0.5'],
  ])('%s is to be had as CSV', async (address, header, first) => {
    const csv = await plant.get('read', `/v1/rework/${address}`, {
      headers: { Accept: 'text/csv' },
    });
    const [head, line] = csv.text.split('\r\n');
    expect(head).toBe(header);
    expect(line?.startsWith(first)).toBe(true);
  });

  it.each([
    'pareto',
    'pareto?of=colour',
    'times?by=station',
    'times?fromDay=2026-02-30',
    'cures?of=symptom',
    'waiting?ageClass=old',
    'waiting?after=nonsense',
    'motors?loops=-1',
    'motors?loops=1&characteristic=idle-speed',
    'motors?nextRun=aborted',
    'refails?by=cell',
  ])('refuses %s', async (address) => {
    await refused(plant, 'request-invalid', () => plant.get('read', `/v1/rework/${address}`));
  });

  it('changes nothing: the journal still rebuilds the file', () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});

describe('who waits, and since when', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await start();
  });
  afterAll(() => plant.stop());

  const at = (clock: string) => `2026-03-02T${clock}:00.000Z`;
  const waits = async (motor: string): Promise<Line | undefined> => {
    const { body } = await plant.get('read', '/v1/rework/waiting?limit=1000');
    return body.items.find((one: Line) => one.motor === motor);
  };
  const run = (motor: string, readings: readonly object[], clock: string) =>
    runUntil(plant, motor, 'CELL-A', readings, at(clock));

  it('is who was found nonconforming before a test, while in repair', async () => {
    const { motor } = await setMotor(plant);
    expect(await waits(motor)).toBeUndefined();
    waitUntil(plant, at('07:00'));
    const repair = await complain(plant, motor);
    const nothing = { run: null, cell: null, failed: [] };
    expect(await waits(motor)).toMatchObject({ since: at('07:00'), repair, ...nothing });
    expect(await waits(motor)).toMatchObject({ complaint: 'Scratched', state: 'in-repair' });
    await close(plant, repair, replaced);
    expect(await waits(motor)).toBeUndefined();
  });

  it('is who failed, since then, whatever is found and whichever run is aborted meanwhile', async () => {
    const { motor } = await setMotor(plant);
    const { run: failedRun, repair } = await run(motor, failingOn(idle), '08:00');
    const failed = { since: at('08:00'), run: failedRun, failed: ['idle-speed'] };
    waitUntil(plant, at('08:30'));
    await close(plant, repair, replaced);
    const more = await complain(plant, motor);
    expect(await waits(motor)).toMatchObject({ ...failed, state: 'in-repair', repair: more });
    await close(plant, more, replaced);
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell: 'CELL-A' });
    // Under test it does not wait.
    expect(await waits(motor)).toBeUndefined();
    await plant.make('cell', `/v1/runs/${id}/abort`, { reason: 'No water' });
    expect(await waits(motor)).toMatchObject({ ...failed, state: 'awaiting-test' });
    await run(motor, passing, '09:00');
    expect(await waits(motor)).toBeUndefined();
  });

  it('is who passed and was sent to another test, or to repair, since then', async () => {
    const { motor } = await setMotor(plant);
    await run(motor, passing, '10:00');
    waitUntil(plant, at('10:20'));
    await retest(plant, motor);
    const passed = { since: at('10:20'), run: null, cell: null, failed: [] };
    expect(await waits(motor)).toMatchObject({ ...passed, repair: null, complaint: null });
    waitUntil(plant, at('10:40'));
    await complain(plant, motor);
    expect(await waits(motor)).toMatchObject({ ...passed, complaint: 'Scratched' });
    const { body } = await plant.get('read', '/v1/rework/waiting?cell=CELL-A');
    expect(body.items).toEqual([]);
  });

  it('is who was conceded and then found nonconforming, since then', async () => {
    const { motor } = await setMotor(plant);
    await run(motor, failingOn(water), '11:00');
    await dispose(plant, motor, 'concession');
    expect(await waits(motor)).toBeUndefined();
    waitUntil(plant, at('11:30'));
    await complain(plant, motor);
    expect(await waits(motor)).toMatchObject({ since: at('11:30'), run: null, failed: [] });
    // The failed run may yet get its next one.
    const { body } = await plant.get('read', '/v1/rework/motors?nextRun=unfinished');
    expect(body.items).toMatchObject([{ motor, state: 'in-repair' }]);
  });

  it('counts no hours where a next run is said to have ended before', async () => {
    const { motor } = await setMotor(plant);
    const { repair } = await run(motor, failingOn(telltale), '12:00');
    await close(plant, repair, adjusted);
    const occurredAt = at('11:45');
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', {
      ...{ motor, cell: 'CELL-B', occurredAt },
    });
    await plant.make('cell', `/v1/runs/${id}/completion`, { readings: passing, occurredAt });
    const { body } = await plant.get('read', '/v1/rework/times?by=characteristic');
    const line = body.items.find((one: Line) => one.slice === 'telltale');
    expect(line).toMatchObject({ loops: 1, medianHours: 0, p90Hours: 0, maxHours: 0 });
  });
});
