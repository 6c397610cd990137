import BetterSqlite3 from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { SESSION_IDLE_MS } from '../../src/access/session-actions.js';
import { KEEP_ANSWERS_MS } from '../../src/http/idempotency.js';
import { verifyDatabase } from '../../src/journal/verify.js';
import { STAND_STILL_MS, steadyClock } from '../../src/time.js';
import { START, TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  failing,
  furnish,
  hold,
  openRun,
  passing,
  runMotor,
  setMotor,
  specificationDraft,
  specify,
} from '../support/scenario.js';
import { signIn } from '../support/session.js';
import { exchange, posting, type WireAnswer } from '../support/wire.js';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const at = (ms: number) => new Date(ms).toISOString();

let plant: TestPlant;
beforeEach(async () => {
  // The service's housekeeping and the time that passes for it are moved by hand.
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval', 'performance'] });
  plant = await TestPlant.start();
  await furnish(plant);
});
afterEach(async () => {
  await plant.stop();
  vi.useRealTimers();
});

/** Lets the housekeeping go on for a while on a clock that goes on with it. */
async function keepHouse(minutes: number): Promise<void> {
  for (let i = 0; i < minutes; i += 1) {
    plant.wait(MINUTE);
    vi.advanceTimersByTime(MINUTE);
    // A sweep is a command: what is asked after it is carried out after it.
    await plant.service.store.command(() => undefined);
  }
}

/** Lets time pass where nobody is in doubt of it, though no sweep comes for so long. */
async function pass(ms: number): Promise<void> {
  plant.wait(ms);
  await keepHouse(61);
}

/** Sets the clock forward or back; the housekeeping finds out. */
async function setClock(byMs: number): Promise<void> {
  plant.wait(byMs);
  await keepHouse(1);
}

interface Recorded {
  seq: number;
  recordedAtMs: number;
  occurredAtMs: number;
}
const journal = (): Recorded[] => plant.service.store.reading.journal.after(0, 100_000);

function isSorted(numbers: readonly number[]): boolean {
  return numbers.every((one, i) => i === 0 || one >= (numbers[i - 1] ?? 0));
}

/** Numbers without a gap, a chain that holds, and tables that follow from it. */
function expectSound(): void {
  const events = journal();
  expect(events.map((event) => event.seq)).toEqual(events.map((_, i) => i + 1));
  expect(verifyDatabase(plant.service.store.path).findings).toEqual([]);
}

/** A motor's whole life from set to release, with a failed run, a repair and a hold in it. */
async function wholeLife(): Promise<{ motor: string; powerhead: string }> {
  const made = await setMotor(plant);
  const held = await hold(plant, 'motor', made.motor);
  await plant.make('quality', `/v1/holds/${held}/lift`, { reason: 'Looked at' });
  const { repair } = await runMotor(plant, made.motor, failing);
  await closeRepair(plant, repair ?? 0);
  await runMotor(plant, made.motor, passing);
  await plant.make('quality', '/v1/releases', { motors: [made.motor] });
  return made;
}

/** Ends after it began, in every table that states both. */
function expectNoEndBeforeItsBegin(): void {
  const spans = [
    ['installations', 'from_ms', 'until_ms'],
    ['runs', 'started_at_ms', 'ended_at_ms'],
    ['repairs', 'opened_at_ms', 'closed_at_ms'],
    ['holds', 'placed_at_ms', 'lifted_at_ms'],
    ['sets', 'at_ms', 'torn_down_at_ms'],
    ['api_keys', 'created_at_ms', 'revoked_at_ms'],
    ['sessions', 'opened_at_ms', 'used_at_ms'],
  ];
  const db = new BetterSqlite3(plant.service.store.path, { readonly: true });
  const wrong = spans.flatMap(([table, begin, end]) =>
    db.prepare(`SELECT '${table}' AS found FROM ${table} WHERE ${end} < ${begin}`).all(),
  );
  db.close();
  expect(wrong).toEqual([]);
}

const askBy = async (headers: Record<string, string>) =>
  (await exchange(plant, { path: '/v1/units', headers })).status;

/** Issues a key for so long and returns what it is answered with now, whenever it is asked. */
async function keyFor(name: string, ms: number): Promise<() => Promise<number>> {
  const body = { name, roles: ['read'], expiresAt: at(plant.now + ms) };
  const { token } = await plant.make<{ token: string }>('admin', '/v1/keys', body);
  return () => askBy({ Authorization: `Bearer ${token}` });
}

/** Sends a command of a key of its own and returns how to send the very same again. */
async function sendOnce(code: string): Promise<() => Promise<WireAnswer>> {
  const sent = posting('configuration', '/v1/part-classes', { code, name: code });
  expect((await exchange(plant, sent)).status).toBe(201);
  return () => exchange(plant, sent);
}
const isReplayed = (answer: WireAnswer) => answer.headers['idempotency-replayed'] === 'true';

describe('a steady clock', () => {
  it('never goes back by two hours or less, and stands still until it has caught up', () => {
    let read = 10 * HOUR;
    const clock = steadyClock(() => read, 0);
    const shown = [0, -HOUR, MINUTE, 58 * MINUTE, MINUTE, MINUTE].map((ms) => {
      read += ms;
      return clock() / MINUTE;
    });
    expect(shown).toEqual([600, 600, 600, 600, 600, 601]);
    read -= STAND_STILL_MS;
    expect(clock()).toBe(read + STAND_STILL_MS);
  });

  it('is believed when it goes back further', () => {
    let read = 10 * HOUR;
    const clock = steadyClock(() => read, 0);
    clock();
    read -= STAND_STILL_MS + 1;
    expect(clock()).toBe(read);
  });

  it('begins no earlier than what is recorded, within the same two hours', () => {
    expect(steadyClock(() => 5 * HOUR, 6 * HOUR)()).toBe(6 * HOUR);
    expect(steadyClock(() => 5 * HOUR, 8 * HOUR)()).toBe(5 * HOUR);
  });
});

describe('a clock that steps back an hour', () => {
  it('leads to no time before what is recorded, and every life goes on', async () => {
    plant.wait(2 * HOUR);
    const set = await setMotor(plant);
    const inTest = await setMotor(plant);
    const run = await openRun(plant, inTest.motor);
    const inRepair = await failedMotor(plant);
    plant.wait(-HOUR);

    expect((await runMotor(plant, set.motor)).verdict).toBe('pass');
    await plant.make('quality', '/v1/releases', { motors: [set.motor] });
    await plant.make('cell', `/v1/runs/${run}/completion`, { readings: passing });
    await closeRepair(plant, inRepair.repair);
    const reason = 'To be seen';
    await plant.make('quality', '/v1/teardowns', { motor: inRepair.motor, reason });
    await wholeLife();
    plant.wait(HOUR);
    await wholeLife();

    expect(isSorted(journal().map((event) => event.recordedAtMs))).toBe(true);
    expect(isSorted(journal().map((event) => event.occurredAtMs))).toBe(true);
    expect(journal().at(-1)?.recordedAtMs).toBe(plant.now);
    expectNoEndBeforeItsBegin();
    expectSound();
  });

  it('hides nothing from the history of a half: it ran after it was set', async () => {
    const { motor, powerhead } = await setMotor(plant);
    plant.wait(-HOUR);
    await runMotor(plant, motor);
    const { body } = await plant.get('read', `/v1/history?serial=${powerhead}`);
    expect(body.runs).toHaveLength(1);
    const kinds = (body.timeline as { kind: string }[]).map((one) => one.kind);
    expect(kinds.slice(-3)).toEqual(['pair.set', 'run.started', 'run.completed']);
  });

  it('takes out of force nothing that was, and the check says what the set does', async () => {
    const [powerhead, lowerUnit] = [
      await enter(plant, 'powerhead'),
      await enter(plant, 'lower-unit'),
    ];
    await plant.make('configuration', '/v1/orders', {
      ...{ number: 'BACK', model: 'F100L', quantity: 1, dueOn: '2026-03-10' },
    });
    plant.wait(30 * MINUTE);
    const revision = await specify(plant, { ...specificationDraft(), note: 'Just before' });
    plant.wait(-HOUR);
    const query = `powerhead=${powerhead}&lowerUnit=${lowerUnit}&order=BACK`;
    expect((await plant.get('set', `/v1/sets/check?${query}`)).status).toBe(200);
    const body = { powerhead, lowerUnit, order: 'BACK', station: 'SET-1' };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', body);
    const { id } = await plant.make<{ id: number }>('cell', '/v1/runs', { motor, cell: 'C' });
    const detail = await plant.get('read', `/v1/runs/${id}`);
    expect(detail.body.specificationRevision).toBe(2);
    expect(revision).toBe(2);
  });

  it('brings no expired or revoked key back, ends no session and forgets no answer', async () => {
    const expired = await keyFor('a shift', 30 * MINUTE);
    const lasting = await keyFor('a week', 7 * DAY);
    const session = await signIn(plant, 'read');
    plant.wait(30 * MINUTE);
    const again = await sendOnce('last');
    expect([await expired(), await lasting()]).toEqual([401, 200]);
    await setClock(-HOUR);
    expect([await expired(), await lasting(), await askBy(session)]).toEqual([401, 200, 200]);
    expect(isReplayed(await again())).toBe(true);
    // An hour and more later nobody doubts the clock, and the sweeps have begun again.
    await keepHouse(121);
    expect([await expired(), await lasting(), await askBy(session)]).toEqual([401, 200, 200]);
    expect(isReplayed(await again())).toBe(true);
  });

  it('does the same where it stepped back while the service was stopped', async () => {
    plant.wait(HOUR);
    const { motor } = await setMotor(plant);
    const before = journal().at(-1)?.recordedAtMs ?? 0;
    await plant.service.stop();
    const again = await TestPlant.start(plant.folder);
    for (const [role, token] of plant.tokens) again.tokens.set(role, token);
    plant = again;
    expect(plant.now).toBe(START);
    expect(before).toBeGreaterThan(START + HOUR);
    await openRun(plant, motor);
    expect(journal().at(-1)).toMatchObject({ recordedAtMs: before, occurredAtMs: before });
    expectSound();
  });
});

describe('a clock that was far ahead and is set right', () => {
  const AHEAD = 400 * DAY;

  it('is believed at once, both ways: times and their bounds are those of the clock', async () => {
    const truth = plant.now;
    const hold = async (unit: string, ms: number) => {
      const body = { class: 'powerhead', unit, cause: 'quality', reason: 'x', occurredAt: at(ms) };
      const answer = await plant.post('quality', '/v1/holds', body);
      return answer.status < 300 ? answer.body.placedAt : answer.body.type;
    };
    const unit = await enter(plant, 'powerhead');
    await setClock(AHEAD);
    // The caller's right clock is refused rather than believed, and nothing is recorded by it.
    expect(await hold(unit, truth)).toBe('/problems/time-too-old');
    await enter(plant, 'powerhead');
    const ahead = plant.now;
    expect(journal().at(-1)).toMatchObject({ recordedAtMs: ahead, occurredAtMs: ahead });

    await setClock(-AHEAD);
    expect(await hold(unit, plant.now - HOUR)).toBe(at(plant.now - HOUR));
    expect(journal().at(-1)).toMatchObject({ recordedAtMs: plant.now });
    expect(await hold(unit, ahead)).toBe('/problems/time-in-future');
    expectSound();
  });

  it('lets every life go on that it found, begun before, meanwhile or after', async () => {
    const before = await setMotor(plant);
    const open = await openRun(plant, before.motor);
    await setClock(AHEAD);
    const end = { readings: failing };
    const address = `/v1/runs/${open}/completion`;
    const { repair } = await plant.make<{ repair: number }>('cell', address, end);
    const ahead = await setMotor(plant);
    const openAhead = await openRun(plant, ahead.motor);
    const failed = await failedMotor(plant);
    await setClock(-AHEAD);

    await closeRepair(plant, repair);
    await plant.make('cell', `/v1/runs/${openAhead}/completion`, { readings: passing });
    await closeRepair(plant, failed.repair);
    for (const motor of [before.motor, failed.motor]) await runMotor(plant, motor);
    const motors = [before.motor, ahead.motor, failed.motor];
    await plant.make('quality', '/v1/releases', { motors });
    await wholeLife();
    expectNoEndBeforeItsBegin();
    expectSound();
    // What a motor is made of is what it is made of, whenever that was recorded.
    const { body } = await plant.get('read', `/v1/tree?serial=${ahead.motor}`);
    const serials = (body.units as { serial: string }[]).map((one) => one.serial);
    expect(serials).toEqual([ahead.motor, ahead.lowerUnit, ahead.powerhead]);
  });

  it('keeps a key out of force while it lasts, and no longer', async () => {
    const monthly = await keyFor('a month', 30 * DAY);
    await setClock(AHEAD);
    expect(await monthly()).toBe(401);
    await setClock(-AHEAD);
    expect(await monthly()).toBe(200);
  });

  it('makes no key that begins later: one issued meanwhile works from then on', async () => {
    await setClock(AHEAD);
    const issued = await keyFor('issued ahead', DAY);
    await setClock(-AHEAD);
    expect(await issued()).toBe(200);
  });

  it('makes the service forget nothing for an hour, in which to set it right', async () => {
    const again = await sendOnce('before');
    const session = await signIn(plant, 'read');
    await setClock(AHEAD);
    await keepHouse(58);
    // By that clock it has not been used for a year.
    expect(await askBy(session)).toBe(401);
    await setClock(-AHEAD);
    expect(isReplayed(await again())).toBe(true);
    expect(await askBy(session)).toBe(200);
    await setClock(AHEAD);
    await keepHouse(61);
    await setClock(-AHEAD);
    expect(isReplayed(await again())).toBe(false);
    expect(await askBy(session)).toBe(401);
  });

  it('lets no answer and no session live until that time has come', async () => {
    await setClock(AHEAD);
    const again = await sendOnce('ahead');
    const session = await signIn(plant, 'read');
    await setClock(-AHEAD);
    // From now on nobody doubts the clock, and what lies ahead of it is dated now.
    await keepHouse(61);
    expect(await askBy(session)).toBe(200);
    await pass(SESSION_IDLE_MS);
    expect(await askBy(session)).toBe(401);
    expect(isReplayed(await again())).toBe(true);
    await pass(KEEP_ANSWERS_MS);
    expect(isReplayed(await again())).toBe(false);
    expectNoEndBeforeItsBegin();
  });

  it('puts nothing in force that was approved for then: what was in force stays so', async () => {
    const draft = specificationDraft();
    await setClock(AHEAD);
    const ahead = await specify(plant, { ...draft, note: 'Approved by a wrong clock' });
    await setClock(-AHEAD);
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor);
    const { body } = await plant.get('read', `/v1/runs/${run}`);
    expect(body.specificationRevision).toBe(1);
    // Nor can another revision take effect before it: the refusal says from when on.
    const approved = await plant.get('read', `/v1/specifications/${ahead}`);
    const { id } = await plant.make<{ id: number }>('quality', '/v1/specifications', draft);
    const now = { effectiveFrom: at(plant.now) };
    const refused = await plant.post('quality 2', `/v1/specifications/${id}/approval`, now);
    expect(refused.body).toMatchObject({
      type: '/problems/effective-date-past',
      earliest: at(Date.parse(approved.body.effectiveFrom) + 1),
    });
  });

  it('is told in the log each time it is set, and not when it only runs on', async () => {
    const leaps = () =>
      plant.logLines
        .map((line) => JSON.parse(line) as { level: number; leapSeconds?: number })
        .filter((line) => line.leapSeconds !== undefined);
    await keepHouse(10);
    expect(leaps()).toEqual([]);
    await setClock(AHEAD);
    await keepHouse(10);
    await setClock(-HOUR);
    // 40 is pino's number for a warning. A sweep comes up to two seconds after a minute's step.
    expect(leaps().map((line) => [line.level, Math.round((line.leapSeconds ?? 0) / 3600)])).toEqual(
      [
        [40, 400 * 24],
        [40, -1],
      ],
    );
  });
});
