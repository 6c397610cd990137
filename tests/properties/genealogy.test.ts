import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { REASONS_KEPT } from '../../src/tracing/rules.js';
import { TestPlant } from '../support/plant.js';
import { furnish, order } from '../support/scenario.js';
import { clockText, type Name, type Place, placeText } from './genealogy/places.js';
import { type Deed, deeds, Sequence, type Step, step } from './genealogy/sequence.js';

/** Sequences, and steps of each at most; what two shared cores do in well under 25 s. */
const SEQUENCES = 36;
const STEPS = 40;
/** How often each kind of step has to be taken, all sequences together, to count as tried. */
const OFTEN = 4;

describe('genealogy beside a naive model', () => {
  let plant: TestPlant;
  let number: string;
  const done = new Map<Deed, number>();
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    number = await order(plant, 100_000);
  });
  afterAll(() => plant.stop());

  const ids = new Map<string, number>();
  const idOf = (sequence: Sequence, name: Name): number => {
    const known = ids.get(sequence.serialOf(name));
    if (known !== undefined) return known;
    const serial = sequence.serialOf(name);
    const unit = plant.service.store.reading.units.bySerial(sequence.classOf(name), serial);
    if (!unit) throw new Error(`${name} (${serial}) is lost: nothing has its serial`);
    ids.set(serial, unit.id);
    return unit.id;
  };

  /** Everything below a unit, as the service's one recursive question says. */
  const realBelow = (sequence: Sequence, name: Name, atMs: number): Place[] => {
    const tree = plant.service.store.reading.genealogy.tree(idOf(sequence, name), atMs);
    const names = new Map(tree.map((node) => [node.unitId, sequence.nameOf(node.serial)]));
    return tree.slice(1).map((node) => ({
      child: sequence.nameOf(node.serial),
      parent: names.get(node.parentId ?? 0) ?? 'nothing',
      position: node.position ?? 'nowhere',
      from: node.fromMs ?? Number.NaN,
      until: node.untilMs ?? Infinity,
    }));
  };

  /** @throws Error that tells the whole sequence, the instant, and how the trees differ */
  const mustEqual = (
    sequence: Sequence,
    what: string,
    atMs: number,
    real: readonly Place[],
    model: readonly Place[],
  ): void => {
    const [found, expected] = [real, model].map((list) => list.map(placeText).sort()) as [
      string[],
      string[],
    ];
    if (found.join('\n') === expected.join('\n')) return;
    const missing = expected.filter((line) => !found.includes(line));
    const extra = found.filter((line) => !expected.includes(line));
    throw new Error(
      [
        `${what} at ${clockText(atMs)} differs from the model, after`,
        ...sequence.told.map((line) => `  ${line}`),
        'the service lacks:',
        ...missing.map((line) => `  ${line}`),
        'and has beside:',
        ...extra.map((line) => `  ${line}`),
      ].join('\n'),
    );
  };

  /** All trees of an instant: equal to the model's, every unit in them once, no position filled twice. */
  const checkInstant = (sequence: Sequence, atMs: number): void => {
    const known = sequence.units;
    const roots = known.filter((name) => !sequence.places.at(name, atMs));
    const real = roots.flatMap((root) => {
      const tree = realBelow(sequence, root, atMs);
      mustEqual(sequence, `What is in ${root}`, atMs, tree, sequence.places.below(root, atMs));
      return tree;
    });
    const story = sequence.told.join('\n  ');
    const seen = [...roots, ...real.map((one) => one.child)].sort();
    expect(seen, `every unit once, at ${clockText(atMs)}, after\n  ${story}`).toEqual(
      [...known].sort(),
    );
    const filled = real.map((one) => `${one.parent}.${one.position}`);
    expect(new Set(filled).size, `positions at ${clockText(atMs)}, after\n  ${story}`).toBe(
      filled.length,
    );
  };

  /** The same of every unit over HTTP, in both directions. */
  const checkAnswers = async (sequence: Sequence, atMs: number): Promise<void> => {
    for (const name of sequence.units) {
      for (const direction of ['inside', 'around'] as const) {
        const about = `serial=${sequence.serialOf(name)}&class=${sequence.classOf(name)}`;
        const asOf = new Date(atMs).toISOString();
        const answer = await plant.get(
          'read',
          `/v1/tree?${about}&asOf=${asOf}&direction=${direction}`,
        );
        const placed = (answer.body.units as Record<string, string | null>[]).filter(
          (one) => one.parent !== null,
        );
        const real = placed.map((one) => ({
          child: sequence.nameOf(one.serial ?? ''),
          parent: sequence.nameOf(one.parent ?? ''),
          position: one.position ?? '',
          from: Date.parse(one.since ?? ''),
          until: one.until ? Date.parse(one.until) : Infinity,
        }));
        const model =
          direction === 'inside'
            ? sequence.places.below(name, atMs)
            : sequence.places.above(name, atMs);
        mustEqual(sequence, `The answer of ${name} ${direction}`, atMs, real, model);
      }
    }
  };

  /** Asked for every unit, where-used gives the outermost ones now, each with what is in it. */
  const checkWhereUsed = async (sequence: Sequence): Promise<void> => {
    const any = sequence.units.map((name) => ({
      serials: { class: sequence.classOf(name), serials: [sequence.serialOf(name)] },
    }));
    const { body } = await plant.post('read', '/v1/where-used', { where: { any } });
    const picked = new Map(
      (body.items as { serial: string; reasons: string[] }[]).map(({ serial, reasons }) => [
        sequence.nameOf(serial),
        reasons.flatMap((reason) => reason.split(': ')[1]?.split(' ')[1] ?? []),
      ]),
    );
    const now = plant.now;
    const roots = sequence.units.filter((name) => !sequence.places.at(name, now));
    const story = sequence.told.join('\n  ');
    expect([...picked.keys()].sort(), `outermost units, after\n  ${story}`).toEqual(roots.sort());
    for (const [name, hits] of picked) {
      const inside = sequence.places.below(name, now).map((one) => sequence.serialOf(one.child));
      expect(inside, `reasons of ${name}, after\n  ${story}`).toEqual(expect.arrayContaining(hits));
      expect(hits.length).toBeGreaterThanOrEqual(Math.min(inside.length, REASONS_KEPT - 1));
    }
  };

  it('has, after every step and at every past instant, the trees that a plain list has', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.noBias(fc.array(step, { minLength: 1, maxLength: STEPS, size: 'max' })),
        fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true }),
        async (steps: Step[], share) => {
          const sequence = new Sequence(plant, number, done);
          await sequence.begin();
          for (const one of steps) {
            await sequence.take(one);
            for (const instant of sequence.instants) checkInstant(sequence, instant);
          }
          const { instants } = sequence;
          const some = instants[Math.floor(share * instants.length)] ?? plant.now;
          await checkAnswers(sequence, some);
          await checkWhereUsed(sequence);
        },
      ),
      { numRuns: SEQUENCES },
    );
  }, 120_000);

  it('did every kind of step often enough to say so', () => {
    const seldom = deeds.filter((deed) => (done.get(deed) ?? 0) < OFTEN);
    expect(seldom, JSON.stringify(Object.fromEntries(done))).toEqual([]);
  });
});
