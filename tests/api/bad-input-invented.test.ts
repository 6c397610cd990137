import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { z } from 'zod';
import type { Route } from '../../src/http/route.js';
import { routes } from '../../src/routes.js';
import { assertDocumented } from '../support/document-check.js';
import { TestPlant } from '../support/plant.js';
import { enter, failing, furnish, order, runMotor, setMotor } from '../support/scenario.js';
import { exchange, posting } from '../support/wire.js';

type Shape = Record<string, unknown>;

const names = ['PH-100', 'LU-20', 'FP-1', 'A', 'B', 'F100L', 'powerhead', 'lower-unit', 'motor'];
const codes = [
  ...names,
  'fuel-pump',
  'telltale',
  'idle-speed',
  'N.m',
  'kPa',
  'deg',
  '/min',
  '0',
  'O-1',
  '09506000134352',
  '06:00',
  '22:00',
];
const times = ['2026-03-02T06:00:00Z', '2026-03-02T07:00:01+01:00', '2026-03-02T06:00:00.0019Z'];
const numbers = [0, 1, -1, 0.1, 30, 650, 1e-300, 1e300, -1e300, 5e-324, 2 ** 53, 100, 10_000];
const texts = [
  'x',
  'ä',
  '傷',
  '\u{1F527}',
  "O'Neil; DROP TABLE units",
  '=1+1',
  '%',
  '{}',
  '\u200b',
];

/** Scans of units that are there, filled in before the tests. */
const scans: string[] = ['NOBODY', '\u001d', '(01)09506000134352(21)X'];

const pool = () => [...scans, ...scans, ...scans, ...codes, ...texts];

function fits(schema: Shape, text: string): boolean {
  const { pattern, minLength = 0, maxLength = 1000 } = schema as Record<string, never>;
  if (text.length < minLength || text.length > maxLength) return false;
  return pattern === undefined || new RegExp(pattern, 'u').test(text);
}

/** A schema with what it refers to put in its place, a few levels deep where it holds itself. */
function resolved(schema: unknown, definitions: Shape, depth = 0): unknown {
  if (Array.isArray(schema)) return schema.map((one) => resolved(one, definitions, depth));
  if (typeof schema !== 'object' || schema === null) return schema;
  const reference = (schema as Shape).$ref;
  if (typeof reference === 'string') {
    if (depth === 4) return { type: 'null' };
    return resolved(definitions[reference.split('/').at(-1) ?? ''], definitions, depth + 1);
  }
  return Object.fromEntries(
    Object.entries(schema).map(([name, value]) => [name, resolved(value, definitions, depth)]),
  );
}

function schemaOf(body: z.ZodType): Shape {
  const schema = z.toJSONSchema(body, { io: 'input', unrepresentable: 'any' }) as Shape;
  return resolved(schema, (schema.$defs ?? {}) as Shape) as Shape;
}

/** Bodies that fit a JSON Schema, with whatever content. */
function fitting(schema: Shape): fc.Arbitrary<unknown> {
  if (Array.isArray(schema.enum)) return fc.constantFrom(...schema.enum);
  if ('const' in schema) return fc.constant(schema.const);
  const choices = (schema.anyOf ?? schema.oneOf) as Shape[] | undefined;
  if (choices) return fc.oneof(...choices.map(fitting));
  const type = Array.isArray(schema.type) ? schema.type[0] : schema.type;
  if (type === 'object') return fittingObject(schema);
  if (type === 'array') {
    return fc.array(fitting(schema.items as Shape), {
      maxLength: 3,
      minLength: Number(schema.minItems ?? 0),
    });
  }
  if (type === 'boolean') return fc.boolean();
  if (type === 'null') return fc.constant(null);
  if (type === 'integer') return fc.constantFrom(1, 2, 3, 10_000, 0, 2 ** 53 - 1);
  if (type === 'number') return fc.constantFrom(...numbers);
  if (schema.format === 'date-time') return fc.constantFrom(...times);
  if (schema.format === 'date') return fc.constantFrom('2026-03-02', '0001-01-01', '9999-12-31');
  return fc.constantFrom(...pool().filter((text) => fits(schema, text)));
}

function fittingObject(schema: Shape): fc.Arbitrary<unknown> {
  const properties = (schema.properties ?? {}) as Record<string, Shape>;
  const required = (schema.required ?? []) as string[];
  const members = Object.fromEntries(
    Object.entries(properties).map(([name, one]) => [
      name,
      required.includes(name) ? fitting(one) : fc.option(fitting(one), { nil: undefined }),
    ]),
  );
  if (Object.keys(members).length > 0) return fc.record(members);
  return fc.dictionary(fc.constantFrom('shaftLength', 'rotation'), fc.constantFrom(...texts));
}

/** All commands but those on keys, which would revoke the test's own. */
const commands = routes.filter((route) => route.kind === 'command' && route.tag !== 'Access');

describe('a body of the right form and invented content', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    const { motor, powerhead, lowerUnit } = await setMotor(plant);
    scans.push(motor, powerhead, lowerUnit);
    scans.push(await enter(plant, 'powerhead'), await enter(plant, 'lower-unit'));
    scans.push(await enter(plant, 'fuel-pump'));
    await order(plant, 100);
    const [failed, open] = [await setMotor(plant), await setMotor(plant)];
    await runMotor(plant, failed.motor, failing);
    await plant.make('cell', '/v1/runs', { motor: open.motor, cell: 'CELL-99' });
    scans.push(failed.motor, open.motor, open.lowerUnit);
  });
  afterAll(() => plant.stop());

  const named = commands.map((route): [string, Route] => [`${route.method} ${route.path}`, route]);
  it.each(named)(
    'is answered by %s with what its document lists, never with 5xx',
    async (_name, route) => {
      const schema = schemaOf(route.body as z.ZodType);
      const bodies = fc.sample(fc.tuple(fitting(schema), fc.constantFrom('1', '2', '999')), {
        numRuns: 40,
        seed: 20_260_302,
      });
      const as = route.roles === 'any' ? 'read' : (route.roles[0] ?? 'read');
      for (const [body, id] of bodies) {
        const path = route.path.replaceAll(/\{\w+\}/g, id);
        const sent = posting(as, path, body, { 'If-Match': '"v1"' });
        const before = plant.eventCount();
        const answer = await exchange(plant, { ...sent, method: route.method.toUpperCase() });
        const told = `${JSON.stringify(body)} -> ${answer.text} ${plant.logLines.at(-1)}`;
        expect(answer.status, told).toBeLessThan(500);
        assertDocumented(route.method, path, answer);
        if (answer.status === 400) expect(plant.eventCount()).toBe(before);
      }
    },
  );
});
