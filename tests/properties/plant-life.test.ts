import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { commands, type Step, type World } from '../support/plant-commands.js';
import { type Caller, type LineAnswer, PlantLine } from '../support/plant-line.js';
import { type ModelUnit, PlantModel, type Tally } from '../support/plant-model.js';
import { enter, furnish, order } from '../support/scenario.js';

/** Some thousands of commands. */
const LIVES_IN_CI = 60;
const LIVES = Number(process.env.PROPERTY_RUNS ?? LIVES_IN_CI);
/**
 * A life was measured at under a second on a busy machine. Past the limit a failure is told as
 * far as it was shrunk by then.
 */
const LIMIT_MS = Math.max(90_000, LIVES * 2000);
const names = Object.keys(commands);

let worlds = 0;

/** Two of each part, the first powerhead with a pump in it, and an order for two motors. */
async function makeWorld({ plant }: PlantLine, tally: Tally): Promise<World> {
  worlds += 1;
  const model = new PlantModel(2, tally);
  const part = async (
    unitClass: 'powerhead' | 'lower-unit' | 'fuel-pump',
    components: object[],
  ) => {
    const serial = await enter(plant, unitClass, { components });
    const unit: ModelUnit = {
      ...{ class: unitClass, serial, state: 'accepted', parent: null, openHolds: 0 },
    };
    model.parts.push(unit);
    return unit;
  };
  const pump = await part('fuel-pump', []);
  await part('fuel-pump', []);
  const powerhead = await part('powerhead', [{ class: 'fuel-pump', serial: pump.serial }]);
  model.put(pump, powerhead);
  await part('powerhead', []);
  for (let n = 0; n < 3; n += 1) await part('lower-unit', []);
  const cells = [`A-${worlds}`, `B-${worlds}`];
  return { model, order: await order(plant, model.quantity), cells };
}

/** Everything the model says of the plant, read back through the API. */
async function compare({ plant }: PlantLine, { model, order: number }: World): Promise<void> {
  for (const unit of model.units) {
    const query = `serial=${unit.serial}&class=${unit.class}`;
    const { body } = await plant.get('read', `/v1/history?${query}`);
    expect([unit.serial, body.unit.state]).toEqual([unit.serial, unit.state]);
    expect([unit.serial, body.unit.onHold]).toEqual([unit.serial, unit.openHolds > 0]);
    const tree = body.tree.map((one: { serial: string }) => one.serial);
    expect(tree.sort()).toEqual(
      model
        .tree(model.top(unit))
        .map((one) => one.serial)
        .sort(),
    );
  }
  for (const motor of model.motors) {
    const { body } = await plant.get('read', `/v1/release-gate?motor=${motor.serial}`);
    expect(body.releasable).toBe(motor.state === 'passed' && !model.isHeld(motor));
  }
  expect((await plant.get('read', `/v1/orders/${number}`)).body.set).toBe(model.setCount);
}

/** One command: its name, what it is about, and whether any will do or one that is allowed. */
interface Act {
  name: string;
  picks: readonly number[];
  any: boolean;
}

function make(world: World, name: string, picks: readonly number[]): Step | undefined {
  const rest = [...picks];
  return commands[name]?.(world, (from) => from[(rest.shift() ?? 0) % from.length]);
}

/**
 * The next command, from the one named on or back, that is allowed: so that lives get somewhere.
 * What ends or stops a motor, or may be done at any time, waits for its turn by name.
 */
function nextAllowed(world: World, { name: first, picks }: Act): string {
  const start = names.indexOf(first);
  const round = [...names.slice(start), ...names.slice(0, start)];
  const ahead = (picks[4] ?? 0) % 2 === 0 ? round : [first, ...round.slice(1).reverse()];
  const found = ahead
    .filter((one) => !['hold', 'inspect', 'scrap', 'tearDown'].includes(one))
    .find((one) => make(world, one, picks)?.allowed());
  return found ?? first;
}

/** A command under way. */
interface Sending {
  name: string;
  step: Step;
  caller: Caller;
  answer: LineAnswer;
  /** Its events in the journal, by number. */
  events: number[];
}

const isDone = ({ answer }: Sending) => answer.status < 300;

/** Sends commands at once, each by a caller of its own; of twins the second is let go. */
async function sendAll(
  line: PlantLine,
  made: readonly { name: string; step: Step; twice: boolean }[],
): Promise<Sending[]> {
  const { journal } = line.plant.service.store.reading;
  const before = journal.count();
  const sendings = await Promise.all(
    made.map(async ({ name, step, twice }, i): Promise<Sending> => {
      const caller = line.callers[i % line.callers.length] as Caller;
      const { path, body } = step;
      const answer = await (twice
        ? line.sendTwice(caller, path, body)
        : line.send(caller, path, body));
      return { name, step, caller, answer, events: [] };
    }),
  );
  // The reading connection sees what is committed, and a command is answered after its commit.
  for (const { seq, keyId } of journal.after(before, 1000)) {
    sendings.find((one) => one.caller.keyId === keyId)?.events.push(seq);
  }
  return sendings;
}

/**
 * Holds what was answered against the model, in the journal's order: what was done was allowed
 * then, a refusal that left an event was due then, and any other was due at some moment.
 */
function settle(sendings: readonly Sending[]): void {
  const told = ({ name, answer }: Sending) => `${name}: ${answer.text}`;
  const written = sendings
    .filter((one) => one.events.length > 0)
    .sort((a, b) => (a.events[0] ?? 0) - (b.events[0] ?? 0));
  // A command's events stand together: no other command came in between.
  const numbers = written.flatMap((one) => one.events);
  expect(numbers).toEqual(numbers.toSorted((a, b) => a - b));
  let silent = sendings.filter((one) => one.events.length === 0);
  const notDue = () => silent.filter(({ step }) => step.allowed());
  silent = notDue();
  for (const one of written) {
    expect([told(one), isDone(one)]).toEqual([told(one), one.step.allowed()]);
    if (isDone(one)) one.step.apply(one.answer.body);
    silent = notDue();
  }
  expect(silent.map((one) => `not due: ${told(one)}`)).toEqual([]);
  for (const one of sendings.filter((sent) => !isDone(sent))) {
    expect([told(one), [409, 422].includes(one.answer.status)]).toEqual([told(one), true]);
    expect([told(one), one.events.length]).toEqual([told(one), one.step.eventsWhenRefused ?? 0]);
  }
}

const act: fc.Arbitrary<Act> = fc.record({
  name: fc.noBias(fc.constantFrom(...names)),
  picks: fc.array(fc.nat({ max: 11 }), { minLength: 5, maxLength: 5 }),
  any: fc.boolean(),
});
/** What happens next: commands at once, one sent again, a restart, a clock put back or right again. */
const happening = fc.oneof(
  {
    weight: 12,
    arbitrary: fc.record({
      kind: fc.constant('commands' as const),
      acts: fc.oneof(
        fc.array(act, { minLength: 1, maxLength: 1 }),
        fc.array(act, { minLength: 2, maxLength: 4 }),
      ),
      twice: fc.nat({ max: 9 }),
    }),
  },
  { weight: 2, arbitrary: fc.record({ kind: fc.constant('repeat' as const), pick: fc.nat() }) },
  {
    weight: 1,
    arbitrary: fc.record({
      kind: fc.constantFrom('clock set' as const, 'restart' as const),
    }),
  },
);

describe('the plant and a naive model of it', () => {
  let line: PlantLine;
  const tally: Tally = {
    firstRuns: 0,
    firstPasses: 0,
    completedRuns: 0,
    passedRuns: 0,
    abortedRuns: 0,
  };
  const seen = new Map<string, number>();
  beforeAll(async () => {
    line = await PlantLine.start();
    await furnish(line.plant);
  });
  afterAll(() => line.stop());

  async function carryOut(world: World, acts: readonly Act[], twice: number): Promise<void> {
    const made = acts.flatMap((one, i) => {
      const name = one.any ? one.name : nextAllowed(world, one);
      const step = make(world, name, one.picks);
      return step ? [{ name, step, twice: twice === i }] : [];
    });
    const sendings = await sendAll(line, made);
    settle(sendings);
    for (const one of sendings) {
      const outcome = `${one.name} ${isDone(one) ? 'done' : 'refused'}`;
      seen.set(outcome, (seen.get(outcome) ?? 0) + 1);
    }
  }

  it(
    'agree on every command of any life, over restarts and whoever else sends one meanwhile',
    async () => {
      const life = fc.array(happening, { minLength: 25, maxLength: 45, size: 'max' });
      await fc.assert(
        fc.asyncProperty(life, async (happenings) => {
          const world = await makeWorld(line, tally);
          for (const next of happenings) {
            line.plant.wait(1000);
            if (next.kind === 'commands') await carryOut(world, next.acts, next.twice);
            else if (next.kind === 'repeat') await line.repeat(next.pick);
            else if (next.kind === 'restart') await line.restart();
            else line.setClock();
          }
          await compare(line, world);
        }),
        { numRuns: LIVES, interruptAfterTimeLimit: LIMIT_MS, markInterruptAsFailure: true },
      );
    },
    LIMIT_MS + 60_000,
  );

  it.runIf(LIVES >= LIVES_IN_CI)('tried every command, and saw each both done and refused', () => {
    const outcomes = Object.keys(commands).flatMap((name) => [`${name} done`, `${name} refused`]);
    expect(outcomes.filter((one) => !seen.has(one))).toEqual([]);
    expect(line.commands).toBeGreaterThan(2000);
    expect(line.restarts).toBeGreaterThan(20);
  });

  it('agree on the yield of all those lives together', async () => {
    const { body } = await line.plant.get('read', '/v1/yield/first-pass');
    expect(body.items).toMatchObject([tally]);
  });

  it('leave a journal that chains, and from which every table follows', () => {
    expect(verifyDatabase(line.plant.service.store.path).findings).toEqual([]);
  });
});
