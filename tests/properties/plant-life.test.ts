import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { commands, type World } from '../support/plant-commands.js';
import { PlantModel, type Tally } from '../support/plant-model.js';
import { enter, furnish, order } from '../support/scenario.js';

let worlds = 0;

/** Two of each part, the first powerhead with a pump in it, and an order for two motors. */
async function makeWorld(plant: TestPlant, tally: Tally): Promise<World> {
  worlds += 1;
  const model = new PlantModel(2, tally);
  const part = async (
    unitClass: 'powerhead' | 'lower-unit' | 'fuel-pump',
    components: object[],
  ) => {
    const serial = await enter(plant, unitClass, { components });
    const unit = { class: unitClass, serial, state: 'accepted', parent: null, openHolds: 0 };
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
  return { plant, model, order: await order(plant, model.quantity), cells };
}

/** Everything the model says of the plant, read back through the API. */
async function compare({ plant, model, order: number }: World): Promise<void> {
  for (const unit of model.units) {
    const query = `serial=${unit.serial}&class=${unit.class}`;
    const { body } = await plant.get('read', `/v1/history?${query}`);
    expect([unit.serial, body.unit.state]).toEqual([unit.serial, unit.state]);
    expect(body.unit.onHold).toBe(unit.openHolds > 0);
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

const names = Object.keys(commands);

function make(world: World, name: string, picks: readonly number[]) {
  const rest = [...picks];
  return commands[name]?.(world, (from) => from[(rest.shift() ?? 0) % from.length]);
}

/**
 * The next command, from the one named on or back, that is allowed: so that lives get somewhere.
 * What ends or stops a motor, or may be done at any time, waits for its turn by name.
 */
function nextAllowed(world: World, first: string, picks: readonly number[]) {
  const start = names.indexOf(first);
  const round = [...names.slice(start), ...names.slice(0, start)];
  const ahead = (picks[4] ?? 0) % 2 === 0 ? round : [first, ...round.slice(1).reverse()];
  const name = ahead
    .filter((one) => !['hold', 'inspect', 'scrap', 'tearDown'].includes(one))
    .find((one) => make(world, one, picks)?.allowed);
  return { name: name ?? first, command: make(world, name ?? first, picks) };
}

describe('the plant and a naive model of it', () => {
  let plant: TestPlant;
  const tally: Tally = {
    firstRuns: 0,
    firstPasses: 0,
    completedRuns: 0,
    passedRuns: 0,
    abortedRuns: 0,
  };
  const seen = new Map<string, number>();
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('agree on every command of any life, and on what stands where at its end', async () => {
    const picks = fc.array(fc.nat({ max: 11 }), { minLength: 5, maxLength: 5 });
    const step = fc.record({
      name: fc.noBias(fc.constantFrom(...names)),
      picks,
      any: fc.boolean(),
    });
    const life = fc.array(step, { minLength: 30, maxLength: 50, size: 'max' });
    await fc.assert(
      fc.asyncProperty(life, async (steps) => {
        const world = await makeWorld(plant, tally);
        for (const { name: first, picks, any } of steps) {
          plant.wait(1000);
          const { name, command } = any
            ? { name: first, command: make(world, first, picks) }
            : nextAllowed(world, first, picks);
          if (!command) continue;
          const before = plant.eventCount();
          const answer = await command.ask();
          const outcome = answer.status < 300 ? 'done' : 'refused';
          const what = `${name}: ${answer.text}`;
          expect([what, outcome]).toEqual([what, command.allowed ? 'done' : 'refused']);
          seen.set(`${name} ${outcome}`, (seen.get(`${name} ${outcome}`) ?? 0) + 1);
          if (command.allowed) {
            command.apply(answer.body);
            expect(plant.eventCount()).toBeGreaterThan(before);
          } else {
            expect([409, 422]).toContain(answer.status);
            expect(plant.eventCount()).toBe(before + (command.eventsWhenRefused ?? 0));
          }
        }
        await compare(world);
      }),
      {
        numRuns: 25,
        seed: 20260302,
        interruptAfterTimeLimit: 100_000,
        markInterruptAsFailure: true,
      },
    );
  }, 120_000);

  it('tried every command, and saw each both done and refused', () => {
    const outcomes = Object.keys(commands).flatMap((name) => [`${name} done`, `${name} refused`]);
    expect(outcomes.filter((one) => !seen.has(one))).toEqual([]);
  });

  it('agree on the yield of all those lives together', async () => {
    const { body } = await plant.get('read', '/v1/yield/first-pass');
    expect(body.items).toMatchObject([tally]);
  });
});
