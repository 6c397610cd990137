import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  failing,
  furnish,
  goodFastening,
  hold,
  order,
  passing,
  refused,
  runMotor,
  setMotor,
  specificationDraft,
  specify,
  unitDraft,
} from '../support/scenario.js';

interface Line {
  kind: string;
  text: string;
  actor: string;
  station: string | null;
  units: string[];
}
const kindsOf = (timeline: Line[]) => timeline.map((one) => one.kind);

describe('the history of a serial', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  const ask = async (serial: string, more = '') => {
    const query = `serial=${encodeURIComponent(serial)}${more}`;
    return (await plant.get('read', `/v1/history?${query}`)).body;
  };

  /** A motor with a fuel pump inside its powerhead, and lots and fastenings on it. */
  const built = async () => {
    const pump = await enter(plant, 'fuel-pump');
    const powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: pump }],
      lots: [{ part: 'PRIMER', revision: '1', lot: 'L-77' }],
      station: 'BUILD-3',
    });
    const lowerUnit = await enter(plant, 'lower-unit');
    plant.wait(1000);
    const set = { powerhead, lowerUnit, order: await order(plant), station: 'SET-2' };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', set);
    plant.wait(1000);
    return { pump, powerhead, lowerUnit, motor };
  };

  it('is the same tree from the motor, a half, and a component, each marked as asked', async () => {
    const { pump, powerhead, lowerUnit, motor } = await built();
    for (const serial of [motor, powerhead, lowerUnit, pump]) {
      const history = await ask(serial);
      expect(history.motor).toBe(motor);
      const tree = history.tree as { serial: string; asked: boolean }[];
      expect(tree.map((one) => one.serial)).toEqual([motor, lowerUnit, powerhead, pump]);
      expect(tree.filter((one) => one.asked).map((one) => one.serial)).toEqual([serial]);
      expect(history.unit.serial).toBe(serial);
      expect(history.sets).toMatchObject([{ motor, station: 'SET-2', setBy: 'set key' }]);
    }
  });

  it('shows of each unit its place, part, inspection, fastenings and lots', async () => {
    const { pump, powerhead, motor } = await built();
    const { tree } = await ask(motor);
    expect(tree[2]).toMatchObject({
      class: 'powerhead',
      serial: powerhead,
      part: 'PH-100',
      partRevision: 'A',
      position: 'powerhead',
      parent: motor,
      depth: 1,
      inspections: [{ kind: 'build record', result: 'accepted' }],
      fastenings: [{ joint: goodFastening.joint, torque: 30, conforms: true }],
      lots: [{ part: 'PRIMER', partRevision: '1', lot: 'L-77' }],
    });
    expect(tree[3]).toMatchObject({ serial: pump, parent: powerhead, depth: 2 });
    expect(tree[1].inspections).toMatchObject([{ kind: 'paint inspection' }]);
  });

  it('is found by what a scanner sends: ISO/IEC 15434 with identifier S, and GS1 with AI 21', async () => {
    const { powerhead, motor } = await built();
    const scans = [
      `[)>\u001e06\u001dS${powerhead}\u001e\u0004`,
      // 09506000134352 is the GTIN of GS1's own examples.
      `010950600013435221${powerhead}`,
      `https://example.com/01/09506000134352/21/${powerhead}`,
    ];
    for (const scan of scans) {
      expect(await ask(scan)).toMatchObject({ motor, unit: { serial: powerhead } });
    }
  });

  it('asks which is meant where units of two classes bear the serial', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const pump = unitDraft('fuel-pump', { serial: powerhead });
    await plant.make('set', '/v1/units', pump);
    const problem = await refused(plant, 'serial-ambiguous', () =>
      plant.get('read', `/v1/history?serial=${powerhead}`),
    );
    expect(problem.classes).toEqual(['fuel-pump', 'powerhead']);
    expect((await ask(powerhead, '&class=fuel-pump')).unit.class).toBe('fuel-pump');
    expect((await ask(powerhead, '&class=powerhead')).unit.class).toBe('powerhead');
  });

  it('is refused for a serial nobody entered, another class, and an unreadable scan', async () => {
    const { powerhead } = await built();
    const get = (query: string) => () => plant.get('read', `/v1/history?${query}`);
    await refused(plant, 'serial-unknown', get('serial=NOBODY1'));
    await refused(plant, 'wrong-class', get(`serial=${powerhead}&class=motor`));
    await refused(plant, 'scan-unreadable', get('serial=%5B%29%3E'));
    await refused(plant, 'request-invalid', get('serial='));
    await refused(plant, 'request-invalid', get(`serial=${powerhead}&asOf=yesterday`));
  });

  it('tells everything that happened, by whom and where', async () => {
    const { motor, powerhead, lowerUnit, pump } = await built();
    const { repair, run } = await runMotor(plant, motor, failing);
    const lifted = await hold(plant, 'fuel-pump', pump);
    await plant.make('quality', `/v1/holds/${lifted}/lift`, { reason: 'Sound' });
    await closeRepair(plant, repair ?? 0);
    await runMotor(plant, motor);
    const releases = { motors: [motor], station: 'GATE-1' };
    await plant.make('quality', '/v1/releases', releases);
    const { timeline, timelineCut, holds } = await ask(motor);
    const told = (timeline as Line[]).map((one) => [one.kind, one.actor, one.station]);
    expect(told).toEqual([
      ['unit.entered', 'set key', null],
      ['unit.entered', 'set key', 'BUILD-3'],
      ['unit.entered', 'set key', null],
      ['pair.set', 'set key', 'SET-2'],
      ['run.started', 'cell key', expect.stringMatching(/^CELL-/)],
      ['run.completed', 'cell key', expect.stringMatching(/^CELL-/)],
      ['unit.held', 'quality key', null],
      ['unit.hold-lifted', 'quality key', null],
      ['repair.closed', 'repair key', null],
      ['run.started', 'cell key', expect.stringMatching(/^CELL-/)],
      ['run.completed', 'cell key', expect.stringMatching(/^CELL-/)],
      ['motor.released', 'quality key', 'GATE-1'],
    ]);
    expect(timelineCut).toBe(false);
    expect(timeline[3]).toMatchObject({
      text: `Set together as motor ${motor} at SET-2`,
      units: [motor, powerhead, lowerUnit],
    });
    expect(timeline[5].text).toBe(`Run ${run}, attempt 1: fail`);
    expect(holds).toMatchObject([{ serial: pump, liftReason: 'Sound', placedBy: 'quality key' }]);
  });

  it('shows each run with the limits then in force, also after they were superseded', async () => {
    const own = await TestPlant.start();
    await furnish(own);
    const { motor } = await setMotor(own);
    await runMotor(own, motor);
    const draft = specificationDraft();
    const speed = draft.prompts[0]?.characteristics[0];
    await specify(own, {
      ...draft,
      prompts: [{ text: 'Run at idle', characteristics: [{ ...speed, lower: 640 }] }],
    });
    await own.make('quality', '/v1/retests', { motor, reason: 'New limits' });
    await runMotor(own, motor, passing.slice(0, 1));
    const { body } = await own.get('read', `/v1/history?serial=${motor}`);
    const seen = body.runs.map((one: { specificationRevision: number; judgements: object[] }) => [
      one.specificationRevision,
      one.judgements.length,
      one.judgements[0],
    ]);
    expect(seen).toMatchObject([
      [1, 3, { code: 'idle-speed', value: 650, lower: 600, upper: 700 }],
      [2, 1, { code: 'idle-speed', value: 650, lower: 640, upper: 700 }],
    ]);
    await own.stop();
  });

  it('of a half that was exchanged ends there: it did not go out with the motor', async () => {
    const { motor, repair, lowerUnit } = await failedMotor(plant);
    const fitted = await enter(plant, 'lower-unit');
    plant.wait(1000);
    await plant.make('repair', `/v1/repairs/${repair}/exchanges`, {
      parentClass: 'motor',
      parent: motor,
      position: 'lower-unit',
      removed: lowerUnit,
      fitted: { class: 'lower-unit', serial: fitted },
      station: 'REP-2',
    });
    await closeRepair(plant, repair);
    await runMotor(plant, motor);
    await plant.make('quality', '/v1/releases', { motors: [motor] });
    const old = await ask(lowerUnit);
    expect(old).toMatchObject({ motor: null, release: null, unit: { state: 'rejected' } });
    expect(old.runs).toMatchObject([{ attempt: 1, verdict: 'fail' }]);
    expect(old.repairs).toMatchObject([
      { id: repair, exchanges: [{ removed: lowerUnit, fitted }] },
    ]);
    expect(kindsOf(old.timeline).at(-1)).toBe('repair.exchanged');
    const replacement = await ask(fitted);
    expect(replacement).toMatchObject({ motor, release: { motor } });
    expect(replacement.runs).toMatchObject([{ attempt: 2, verdict: 'pass' }]);
    expect(replacement.repairs).toMatchObject([{ id: repair, outcome: 'repaired' }]);
    expect(kindsOf(replacement.timeline)).toEqual([
      'unit.entered',
      'repair.exchanged',
      'repair.closed',
      'run.started',
      'run.completed',
      'motor.released',
    ]);
  });

  it('tells each thing once of a half that left a motor and came back', async () => {
    const { motor, repair, lowerUnit } = await failedMotor(plant);
    const place = { parentClass: 'motor', parent: motor, position: 'lower-unit' };
    const exchange = (body: object) =>
      plant.make('repair', `/v1/repairs/${repair}/exchanges`, { ...place, ...body });
    await exchange({ removed: lowerUnit, removedAs: 'accepted' });
    plant.wait(1000);
    await exchange({ fitted: { class: 'lower-unit', serial: lowerUnit } });
    await closeRepair(plant, repair);
    await runMotor(plant, motor);
    const { sets, runs, repairs } = await ask(lowerUnit);
    expect(sets).toHaveLength(1);
    expect(runs.map((one: { attempt: number }) => one.attempt)).toEqual([1, 2]);
    expect(repairs).toHaveLength(1);
  });

  it('does not take in what had left a half before the half came into the motor', async () => {
    const pump = await enter(plant, 'fuel-pump');
    const components = [{ class: 'fuel-pump', serial: pump }];
    const powerhead = await enter(plant, 'powerhead', { components });
    plant.wait(1000);
    const removal = { class: 'fuel-pump', unit: pump, as: 'rejected', reason: 'Leaks' };
    await plant.make('set', '/v1/removals', removal);
    plant.wait(1000);
    const lowerUnit = await enter(plant, 'lower-unit');
    const set = { powerhead, lowerUnit, order: await order(plant), station: 'SET-1' };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', set);
    const { timeline } = await ask(motor);
    const entered = (timeline as Line[]).filter((one) => one.kind === 'unit.entered');
    expect(entered.map((one) => one.units)).toEqual([[powerhead, pump], [lowerUnit]]);
    expect((await ask(powerhead)).tree).toHaveLength(3);
  });
});

describe('the journal', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('is to be had as CSV, a line an event, page by page', async () => {
    const { motor, powerhead } = await setMotor(plant);
    const headers = { Accept: 'text/csv' };
    const first = await plant.get('read', '/v1/events?limit=5', { headers });
    expect(first.headers['content-type']).toContain('text/csv');
    const lines = first.text.trimEnd().split('\r\n');
    expect(lines[0]).toBe('seq,at,recordedAt,kind,text,actor,station,units');
    expect(lines).toHaveLength(6);
    const next = /<([^>]+)>; rel="next"/.exec(first.headers.link ?? '')?.[1] ?? '';
    const second = await plant.get('read', next, { headers });
    expect(second.text.split('\r\n')[1]).toMatch(/^6,/);
    const all = await plant.get('read', '/v1/events?limit=1000', { headers });
    const set = all.text.split('\r\n').find((line) => line.includes('pair.set'));
    expect(set).toContain(`Set together as motor ${motor} at SET-1,set key,SET-1`);
    expect(set).toContain(powerhead);
    const json = await plant.get('read', '/v1/events?limit=1000');
    expect(all.text.trimEnd().split('\r\n')).toHaveLength(json.body.items.length + 1);
    expect(json.body.next).toBeNull();
  });
});
