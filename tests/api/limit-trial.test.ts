import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { expectedVerdictErrors } from '../../src/statistics/conformity-risk.js';
import { wilsonInterval } from '../../src/statistics/wilson-interval.js';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  furnish,
  runMotor,
  setMotor,
  specificationDraft,
} from '../support/scenario.js';

interface Ran {
  motor: string;
  run: number;
  verdict: string;
}

/** Pressures of eight motors at idle, against acceptance limits of 55 to 145 kPa. */
const pressures = [100, 54.5, 55, 60, 140, 145, 145.5, 200];

/**
 * One line after another: eight motors of which three fail, then one of the failed ones
 * repaired and tested again at 100 kPa. The next day one that was repaired before its first
 * run, and one that was repaired before and fails.
 */
describe('a limit trial', () => {
  let plant: TestPlant;
  let draft: number;
  const ran: Ran[] = [];
  const late: Ran[] = [];

  const run = async (motor: string, pressure: number, more: Record<string, unknown> = {}) => {
    const readings = [
      { code: 'idle-speed', value: more.speed ?? 650 },
      { code: 'water-pressure', value: pressure },
      { code: 'telltale', value: more.telltale ?? true },
    ];
    const done = await runMotor(plant, motor, readings);
    return { motor, run: done.run, verdict: done.verdict, repair: done.repair };
  };
  const repairBefore = async (motor: string) => {
    const { id } = await plant.make<{ id: number }>('repair', '/v1/repairs', {
      motor,
      complaint: 'Scratched',
    });
    await closeRepair(plant, id);
  };

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    let repair: number | null = null;
    for (const pressure of pressures) {
      const { motor } = await setMotor(plant);
      const done = await run(motor, pressure);
      ran.push(done);
      if (pressure === 54.5) repair = done.repair;
    }
    await closeRepair(plant, repair ?? 0);
    ran.push(await run(ran[1]?.motor ?? '', 100));
    plant.wait(24 * 3_600_000);
    for (const pressure of [100, 54]) {
      const { motor } = await setMotor(plant);
      await repairBefore(motor);
      late.push(await run(motor, pressure));
    }
    const { body } = await plant.post('quality', '/v1/specifications', specificationDraft());
    draft = body.id;
  });
  afterAll(() => plant.stop());

  /** Rewrites the draft: the usual one with members changed, characteristics dropped or added. */
  const revise = async (changes: Record<string, object | null> = {}) => {
    const usual = specificationDraft().prompts.flatMap((one) => one.characteristics as object[]);
    const codes = usual.map((one) => (one as { code: string }).code);
    const added = Object.keys(changes).filter((code) => !codes.includes(code));
    const characteristics = [
      ...usual.map((one, i) => {
        const change = changes[codes[i] ?? ''];
        return change === null ? [] : [{ ...one, ...change }];
      }),
      ...added.map((code) => [{ kind: 'measured', code, name: code, ...changes[code] }]),
    ].flat();
    const body = { ...specificationDraft(), prompts: [{ text: 'Run at idle', characteristics }] };
    const { headers } = await plant.get('quality', `/v1/specifications/${draft}`);
    const answer = await plant.put('quality', `/v1/specifications/${draft}`, body, {
      headers: { 'If-Match': String(headers.etag) },
    });
    expect(answer.status, answer.text).toBe(200);
  };
  const trial = async (query = '', id = draft) => {
    const before = plant.eventCount();
    const answer = await plant.get('read', `/v1/specifications/${id}/trial${query}`);
    expect(answer.status, answer.text).toBe(200);
    expect(plant.eventCount()).toBe(before);
    return answer.body;
  };
  const motors = async (address: string) => {
    const answer = await plant.get('read', address);
    expect(answer.status, answer.text).toBe(200);
    return answer.body.items as Record<string, unknown>[];
  };
  const counts = ({ verdicts }: { verdicts: Record<string, { runs: number }> }) =>
    Object.fromEntries(Object.entries(verdicts).map(([turn, { runs }]) => [turn, runs]));
  const line = (body: { characteristics: { code: string }[] }, code: string) =>
    body.characteristics.find((one) => one.code === code) as never as Record<string, never>;

  it('of the same limits changes nothing, and counts every completed run', async () => {
    await revise();
    const body = await trial();
    expect(body).toMatchObject({
      specification: draft,
      model: 'F100L',
      revision: 2,
      state: 'draft',
    });
    // Eight motors, a repeated run, and two the next day; 54.5, 145.5, 200 and 54 failed.
    expect(counts(body)).toEqual({ passToPass: 7, passToFail: 0, failToPass: 0, failToFail: 4 });
    expect(body.lookedAt.runs).toBe(11);
    expect(body.revisions).toEqual([
      {
        specification: 1,
        revision: 1,
        runs: 11,
        differences: `/v1/specifications/${draft}/differences?from=1`,
      },
    ]);
    expect(body.characteristics.map((one: { change: string }) => one.change)).toEqual([
      'same',
      'same',
      'same',
    ]);
    // Ten first runs, of which 100, 55, 60, 140 and 145 passed unrepaired.
    const recorded = { firstPasses: 5, firstPassYield: 0.5, ...wilsonInterval(5, 10) };
    expect(body.firstPass).toMatchObject({ firstRuns: 10, recorded, trial: recorded });
  });

  it('of the approved revision itself gives the verdicts that were recorded', async () => {
    const body = await trial('', 1);
    expect(body.state).toBe('approved');
    expect(counts(body)).toEqual({ passToPass: 7, passToFail: 0, failToPass: 0, failToFail: 4 });
  });

  it('of narrower limits names the runs that would fail, and by which limit', async () => {
    await revise({ 'water-pressure': { upper: 145 } });
    // Acceptance 55 to 140: of 55, 60, 140 and 145 the last falls out.
    const body = await trial();
    expect(counts(body)).toEqual({ passToPass: 6, passToFail: 1, failToPass: 0, failToFail: 4 });
    expect(line(body, 'water-pressure')).toMatchObject({
      change: 'changed',
      trial: { lower: 50, upper: 145, acceptLower: 55, acceptUpper: 140 },
      past: [{ revision: 1, basis: 'as-judged', limits: { acceptUpper: 145 } }],
      passToFail: { runs: 1, below: 0, above: 1 },
      failToPass: { runs: 0, below: 0, above: 0 },
    });
    expect(body.firstPass.trial).toMatchObject({
      firstPasses: 4,
      firstPassYield: 0.4,
      ...wilsonInterval(4, 10),
    });
    const { link } = (line(body, 'water-pressure') as never as { passToFail: { link: string } })
      .passToFail;
    expect(await motors(link)).toMatchObject([
      {
        motor: ran[5]?.motor,
        run: ran[5]?.run,
        recordedVerdict: 'pass',
        trialVerdict: 'fail',
        recordedFirstPass: true,
        trialFirstPass: false,
        attempt: 1,
        link: `/v1/runs/${ran[5]?.run}`,
        decidedBy: [
          {
            code: 'water-pressure',
            recorded: { value: 145, unit: 'kPa', conforms: true, margin: 0, acceptUpper: 145 },
            trial: { value: 145, unit: 'kPa', conforms: false, acceptUpper: 140 },
          },
        ],
        missing: [],
      },
    ]);
  });

  it('of wider limits counts as first-pass what was not repaired before it failed', async () => {
    await revise({ 'water-pressure': { guardBand: 0, lower: 54, upper: 145.5 } });
    // 54.5, 145.5 and, the next day, 54 would pass; 200 still fails.
    const body = await trial();
    expect(counts(body)).toEqual({ passToPass: 7, passToFail: 0, failToPass: 3, failToFail: 1 });
    expect(line(body, 'water-pressure')).toMatchObject({
      failToPass: { runs: 3, below: 2, above: 1 },
    });
    // 54.5 was repaired, but for that failure; the motor at 54 had been repaired before.
    expect(body.firstPass).toMatchObject({
      firstRuns: 10,
      trial: { firstPasses: 7 },
      recorded: { firstPasses: 5 },
    });
    const listed = await motors(body.firstPass.trial.link);
    expect(listed.map((one) => one.run)).toEqual([0, 1, 2, 3, 4, 5, 6].map((i) => ran[i]?.run));
    expect(listed.every((one) => one.trialFirstPass === true)).toBe(true);
    const [last] = (await motors(body.verdicts.failToPass.link)).slice(-1);
    expect(last).toMatchObject({
      motor: late[1]?.motor,
      trialFirstPass: false,
      recordedFirstPass: false,
    });
    const first = await trial('?runs=first');
    expect(first.lookedAt.runs).toBe(10);
    expect(first.verdicts.passToPass.link).toContain('runs=first');
  });

  it('every count is that of the runs behind its link', async () => {
    await revise({ 'water-pressure': { guardBand: 0, lower: 58, upper: 160 } });
    const body = await trial();
    const counted: { runs: number; link: string }[] = [
      body.lookedAt,
      body.notJudgeable,
      ...(Object.values(body.verdicts) as never[]),
      ...body.characteristics.flatMap((one: Record<string, never>) => [
        one.passToFail,
        one.failToPass,
      ]),
      { runs: body.firstPass.firstRuns, link: body.firstPass.link },
      { runs: body.firstPass.recorded.firstPasses, link: body.firstPass.recorded.link },
      { runs: body.firstPass.trial.firstPasses, link: body.firstPass.trial.link },
    ];
    for (const { runs, link } of counted) expect(await motors(link), link).toHaveLength(runs);
    // 55 falls out; 145.5 comes in.
    expect(counts(body)).toEqual({ passToPass: 6, passToFail: 1, failToPass: 1, failToFail: 3 });
  });

  it('converts where the draft has another unit, exactly on the limit', async () => {
    await revise({
      'water-pressure': {
        unit: 'bar',
        lower: 0.55,
        upper: 1.4,
        guardBand: 0,
      },
    });
    // 55 kPa is on 0.55 bar and 140 kPa on 1.4 bar: both pass; 145 kPa does not.
    const body = await trial();
    expect(counts(body)).toEqual({ passToPass: 6, passToFail: 1, failToPass: 0, failToFail: 4 });
    expect(line(body, 'water-pressure')).toMatchObject({ past: [{ basis: 'converted' }] });
    const [changed] = await motors(body.verdicts.passToFail.link);
    expect(changed).toMatchObject({
      decidedBy: [{ recorded: { value: 145, unit: 'kPa' }, trial: { value: 1.45, unit: 'bar' } }],
    });
  });

  it('cannot judge runs by what they did not measure, unless that is passed over', async () => {
    await revise({
      'oil-pressure': { unit: 'kPa', lower: 200, upper: 400 },
      'water-pressure': { upper: 145 },
    });
    const body = await trial();
    expect(body.notJudgeable).toMatchObject({
      runs: 11,
      characteristics: [{ code: 'oil-pressure', runs: 11 }],
    });
    expect(counts(body)).toEqual({ passToPass: 0, passToFail: 0, failToPass: 0, failToFail: 0 });
    expect(body.firstPass.recorded).toMatchObject({
      firstPasses: 0,
      firstPassYield: null,
      lower: null,
    });
    expect(line(body, 'oil-pressure')).toMatchObject({
      change: 'added',
      past: [{ limits: null, basis: 'not-measured', reason: 'no characteristic has this code' }],
    });
    const [first] = await motors(body.notJudgeable.characteristics[0].link);
    expect(first).toMatchObject({
      trialVerdict: 'not-judgeable',
      trialFirstPass: null,
      decidedBy: [],
      missing: [{ code: 'oil-pressure', reason: 'no reading was posted' }],
    });
    const eased = await trial('?unmeasured=ignored');
    expect(eased.notJudgeable.runs).toBe(0);
    expect(counts(eased)).toEqual({ passToPass: 6, passToFail: 1, failToPass: 0, failToFail: 4 });
    expect(await motors(eased.verdicts.passToFail.link)).toHaveLength(1);
  });

  it('no longer fails by what the draft drops, and asks for another answer', async () => {
    await revise({ 'water-pressure': null });
    const body = await trial();
    expect(counts(body)).toEqual({ passToPass: 7, passToFail: 0, failToPass: 4, failToFail: 0 });
    expect(line(body, 'water-pressure')).toMatchObject({
      change: 'dropped',
      trial: null,
      past: [{ basis: 'not-asked' }],
      failToPass: { runs: 4, below: 2, above: 2 },
    });
    const [dropped] = await motors(body.verdicts.failToPass.link);
    expect(dropped).toMatchObject({ decidedBy: [{ code: 'water-pressure', trial: null }] });
    await revise({ telltale: { expected: false } });
    expect(line(await trial(), 'telltale')).toMatchObject({
      change: 'changed',
      passToFail: { runs: 7, below: 0, above: 0 },
    });
  });

  it('reckons the risks of both limits by one uncertainty', async () => {
    await revise({
      'water-pressure': {
        lower: 50,
        upper: 150,
        guardBand: 2,
        standardUncertainty: 3,
      },
    });
    const body = await trial();
    const values = [...pressures, 100, 100, 54];
    const tolerance = { lower: 50, upper: 150 };
    const risksBy = (lower: number, upper: number) =>
      expectedVerdictErrors(values, {
        tolerance,
        acceptance: { lower, upper },
        standardUncertainty: 3,
      });
    const { risks } = line(body, 'water-pressure') as never as {
      risks: Record<string, Record<string, number>>;
    };
    expect(risks).toMatchObject({ standardUncertainty: 3, unit: 'kPa', statedBy: 'trial' });
    for (const [side, wanted] of [
      ['recorded', risksBy(55, 145)],
      ['trial', risksBy(52, 148)],
    ] as const) {
      expect(risks[side]?.expectedFalseAccepts).toBeCloseTo(wanted.expectedFalseAccepts, 12);
      expect(risks[side]?.expectedFalseRejects).toBeCloseTo(wanted.expectedFalseRejects, 12);
      expect(risks[side]?.reason).toBeNull();
      expect(risks[side]?.consumerRisk).toBeGreaterThan(0);
      expect(risks[side]?.producerRisk).toBeGreaterThan(0);
    }
    // Only the pressure is uncertain, and nothing else failed: a run errs as its pressure does.
    expect(body.expectedErrors).toMatchObject({
      takenAsExact: ['idle-speed', 'telltale'],
      reason: null,
    });
    expect(body.expectedErrors.recorded.falseRejects).toBeCloseTo(
      risksBy(55, 145).expectedFalseRejects,
      12,
    );
    expect(body.expectedErrors.trial.falseAccepts).toBeCloseTo(
      risksBy(52, 148).expectedFalseAccepts,
      12,
    );
    expect(line(body, 'telltale')).toMatchObject({
      risks: {
        recorded: { expectedFalseAccepts: null, reason: 'An attribute has no uncertainty.' },
      },
    });
    await revise();
    expect((await trial()).expectedErrors).toMatchObject({
      recorded: null,
      trial: null,
      reason: 'No characteristic that was measured and has limits states an uncertainty.',
    });
  });

  it('looks at a period and a cell', async () => {
    await revise();
    expect((await trial('?untilDay=2026-03-02')).lookedAt.runs).toBe(9);
    expect((await trial('?fromDay=2026-03-03')).lookedAt.runs).toBe(2);
    const [{ cell }] = (await motors(
      `/v1/specifications/${draft}/trial/motors?which=all&limit=1`,
    )) as [{ cell: string }];
    const one = await trial(`?cell=${cell}`);
    expect(one.lookedAt.runs).toBe(1);
    expect(one.lookedAt.link).toBe(
      `/v1/specifications/${draft}/trial/motors?cell=${cell}&which=all`,
    );
    const none = await trial('?fromDay=2026-05-01');
    expect(none).toMatchObject({
      lookedAt: { runs: 0 },
      revisions: [],
      expectedErrors: { reason: 'No run was looked at.' },
    });
  });

  it('lists motors page by page, and as CSV', async () => {
    await revise();
    const seen: unknown[] = [];
    let address: string | null = `/v1/specifications/${draft}/trial/motors?which=all&limit=4`;
    while (address !== null) {
      const { body } = await plant.get('read', address as string);
      expect(body.items.length).toBeLessThanOrEqual(4);
      seen.push(...body.items.map((one: { run: number }) => one.run));
      address = body.next;
    }
    expect(seen).toEqual([...ran, ...late].map((one) => one.run));
    await revise({ 'water-pressure': { upper: 145 } });
    const csv = await plant.get('read', `/v1/specifications/${draft}/trial/motors`, {
      headers: { Accept: 'text/csv' },
    });
    const [head, row, ...more] = csv.text.trim().split('\r\n');
    expect(head).toBe(
      'motor,run,cell,endedAt,attempt,revision,recordedVerdict,trialVerdict,recordedFirstPass,trialFirstPass,decidedBy,missing,link',
    );
    expect(row).toMatch(new RegExp(`^${ran[5]?.motor},${ran[5]?.run},.*,pass,fail,true,false,`));
    expect(more).toEqual([]);
  });

  it('may be asked by every role, and by nobody without a key', async () => {
    for (const role of ['set', 'cell', 'repair', 'quality', 'configuration', 'admin', 'read']) {
      const answer = await plant.get(role, `/v1/specifications/${draft}/trial`);
      expect(answer.status).toBe(200);
    }
    expect((await plant.get('nobody', `/v1/specifications/${draft}/trial`)).status).toBe(401);
  });

  it('is refused in words', async () => {
    const refusal = async (address: string) => {
      const { status, body } = await plant.get('read', address);
      return [status, body.type, body.detail];
    };
    expect(await refusal('/v1/specifications/999/trial')).toEqual([
      404,
      '/problems/specification-unknown',
      'There is no specification 999.',
    ]);
    expect(await refusal('/v1/specifications/999/trial/motors')).toEqual([
      404,
      '/problems/specification-unknown',
      'There is no specification 999.',
    ]);
    expect(
      await refusal(`/v1/specifications/${draft}/trial?fromDay=2026-03-03&untilDay=2026-03-02`),
    ).toEqual([400, '/problems/request-invalid', 'untilDay: is before fromDay']);
    expect(await refusal(`/v1/specifications/${draft}/trial/motors?code=no-such`)).toEqual([
      404,
      '/problems/characteristic-unknown',
      'Neither this specification nor an approved one of model F100L has a characteristic no-such.',
    ]);
    expect(await refusal(`/v1/specifications/${draft}/trial/motors?after=x`)).toEqual([
      400,
      '/problems/request-invalid',
      'The page address is not one that this service gave.',
    ]);
  });

  it('leaves a journal that verifies', async () => {
    expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
  });
});
