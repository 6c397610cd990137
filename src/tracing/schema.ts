import { z } from 'zod';
import { code, instant, label, timeOf } from '../http/shapes.js';

/** Conditions of one question at most, all levels counted. */
export const CONDITION_LIMIT = 50;
/** Levels of all, any and not inside each other at most. */
export const NESTING_LIMIT = 6;
/** Units that one question may pick. */
export const PICKED_LIMIT = 100_000;

const period = { from: instant.optional(), until: instant.optional() };
const serial = label(40);

const leaves = [
  z
    .strictObject({
      lot: z.strictObject({ part: code, revision: code.optional(), lot: label(40) }),
    })
    .meta({ description: 'Units on which a lot was used.' }),
  z
    .strictObject({
      serials: z.strictObject({ class: code, serials: z.array(serial).min(1).max(10_000) }),
    })
    .meta({ description: 'Units by their serials.' }),
  z
    .strictObject({
      serialRange: z.strictObject({ class: code, first: serial, last: serial }),
    })
    .meta({
      description: 'Units whose serial lies in a range, both ends counted, compared as text.',
    }),
  z
    .strictObject({
      part: z.strictObject({ number: code, revision: code.optional() }),
    })
    .meta({ description: 'Units of a part, of one revision or all.' }),
  z.strictObject({ model: code }).meta({ description: 'Motors of a model.' }),
  z
    .strictObject({
      configuration: z.strictObject({ code, revision: z.int().min(1).optional() }),
    })
    .meta({ description: 'Motors set under a configuration.' }),
  z
    .strictObject({
      station: z.strictObject({ name: code, ...period }),
    })
    .meta({ description: 'Motors set at a station, in a period or ever.' }),
  z
    .strictObject({
      cell: z.strictObject({ name: code, ...period }),
    })
    .meta({ description: 'Motors with a run in a test cell, in a period or ever.' }),
  z
    .strictObject({
      handledBy: z.strictObject({ key: label(80), ...period }),
    })
    .meta({ description: 'Motors that a key set, started a run of, or closed a repair of.' }),
  z
    .strictObject({
      tool: z.strictObject({ name: code, ...period }),
    })
    .meta({ description: 'Units fastened by a tool, in a period or ever.' }),
  z
    .strictObject({
      setIn: z.strictObject(period),
    })
    .meta({ description: 'Motors set in a period.' }),
  z
    .strictObject({
      specification: z.strictObject({ model: code, revision: z.int().min(1) }),
    })
    .meta({ description: 'Motors with a completed run judged by a revision of a specification.' }),
  z
    .strictObject({
      reading: z.strictObject({
        model: code,
        code,
        from: z.number().optional(),
        to: z.number().optional(),
      }),
    })
    .meta({
      description:
        'Motors whose latest completed run has a value in a range, both ends counted, in the specification’s unit.',
    }),
  z
    .strictObject({
      margin: z.strictObject({ model: code, code, below: z.number() }),
    })
    .meta({
      description: 'Motors whose latest completed run has a margin below a figure; see Judgement.',
    }),
  z
    .strictObject({ repairCause: code })
    .meta({ description: 'Motors with a repair closed for a cause.' }),
] as const;

const leaf = z.union(leaves);
export type Leaf = z.output<typeof leaf>;
export type LeafKind = Leaf extends infer L ? (L extends L ? keyof L : never) : never;

export type Condition = Leaf | { all: Condition[] } | { any: Condition[] } | { not: Condition };

const nested: z.ZodType<Condition> = z
  .lazy(() =>
    z.union([
      leaf,
      z.strictObject({ all: z.array(nested).min(1).max(CONDITION_LIMIT) }),
      z.strictObject({ any: z.array(nested).min(1).max(CONDITION_LIMIT) }),
      z.strictObject({ not: nested }),
    ]),
  )
  .meta({
    id: 'Condition',
    description:
      'What units are asked for: one of the simple conditions, or all, any or not of others. A unit is picked as the motor that it is in now, or by itself where it is in none.',
    example: {
      all: [{ lot: { part: 'GASKET-7', lot: 'L-881' } }, { not: { cell: { name: 'CELL-3' } } }],
    },
  }) as z.ZodType<Condition>;

/** Levels and leaves of a condition. */
export function measureCondition(condition: Condition): { depth: number; leaves: number } {
  const parts = partsOf(condition).map(measureCondition);
  if (parts.length === 0) return { depth: 0, leaves: 1 };
  return {
    depth: 1 + Math.max(...parts.map((one) => one.depth)),
    leaves: parts.reduce((sum, one) => sum + one.leaves, 0),
  };
}

/** The conditions inside one; none for a leaf. */
export function partsOf(condition: Condition): Condition[] {
  if ('all' in condition) return condition.all;
  if ('any' in condition) return condition.any;
  return 'not' in condition ? [condition.not] : [];
}

export const condition = nested.refine((value) => {
  const { depth, leaves: count } = measureCondition(value);
  return depth <= NESTING_LIMIT && count <= CONDITION_LIMIT;
}, `at most ${CONDITION_LIMIT} conditions, nested ${NESTING_LIMIT} deep`);

export const whereUsedDraft = z
  .strictObject({ where: condition })
  .meta({ id: 'WhereUsedQuestion' });

export const pickedShape = z
  .strictObject({
    class: z.string(),
    serial: z.string(),
    model: z.string().nullable(),
    part: z.string().nullable(),
    partRevision: z.string().nullable(),
    state: z.string().meta({
      description:
        'Where it is: accepted (loose), awaiting-test, in-test, in-repair, passed, released, …',
    }),
    inside: z
      .boolean()
      .meta({ description: 'True while it has not left the plant and is not scrapped.' }),
    releasedAt: timeOf.nullable(),
    order: z.string().nullable(),
    reasons: z.array(z.string()).meta({ description: 'Why it was picked, in words.' }),
  })
  .meta({ id: 'PickedUnit' });

export const whereUsedAnswer = z
  .strictObject({
    items: z.array(pickedShape),
    next: z.null(),
    counts: z.record(z.string(), z.int()).meta({ description: 'Units by state.' }),
  })
  .meta({ id: 'WhereUsed' });
