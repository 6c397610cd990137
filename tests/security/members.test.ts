import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { LivedIn } from '../fuzz/support/lived-in.js';
import { type Operation, operations } from '../fuzz/support/operations.js';
import type { TestPlant } from '../support/plant.js';
import { commandHeaders, exchange, type WireAnswer } from '../support/wire.js';

let life: LivedIn;
let plant: TestPlant;
beforeAll(async () => {
  life = await LivedIn.start();
  plant = life.plant;
});
afterAll(() => plant.stop());

const commands = operations.filter((one) => one.body?.media === 'application/json');
const named = commands.map((one): [string, Operation] => [one.name, one]);
const keyOf = ({ roles }: Operation) => (roles === 'any' ? 'read' : (roles[0] ?? 'read'));

/** What the server alone decides of things, and what objects bear by themselves. */
const foreign = [
  ...['id', 'state', 'version', 'createdAt', 'recordedAt', 'approvedBy', 'approvedAt', 'keyId'],
  ...['actor', 'by', 'verdict', 'isAdmin', '$ref', 'sql', ''],
  ...['constructor', 'prototype', 'toString', 'hasOwnProperty', '__defineGetter__'],
];

type Path = readonly (string | number)[];

/** The places of every object in a body, but of attributes, whose names are the caller's own. */
function objectsIn(value: unknown, at: Path = []): Path[] {
  if (typeof value !== 'object' || value === null || at.at(-1) === 'attributes') return [];
  const own = Array.isArray(value) ? [] : [at];
  const below = Object.entries(value).flatMap(([name, one]) =>
    objectsIn(one, [...at, Array.isArray(value) ? Number(name) : name]),
  );
  return [...own, ...below];
}

/** JSON of a value with a member more in the object at a place, as text, so that it has any name. */
function withMember(value: unknown, at: Path, member: string): string {
  const copy = structuredClone(value);
  const object = at.reduce((one, step) => (one as Record<string | number, unknown>)[step], copy);
  Object.assign(object as object, { 'MEMBER-HERE': true });
  return JSON.stringify(copy).replace('"MEMBER-HERE":true', member);
}

async function send(operation: Operation, body: string): Promise<WireAnswer> {
  const [taken] = life.corpus.get(operation.name) ?? [];
  const headers = commandHeaders({ 'If-Match': '"v1"' });
  const method = operation.method.toUpperCase();
  return exchange(plant, { method, path: taken?.path ?? '', as: keyOf(operation), headers, body });
}

const pointerTo = (at: Path, name: string) => [...at, name].map((step) => `/${step}`).join('');

describe('members that nobody asked for (API3)', () => {
  it.each(named)('are refused of %s, in every object of its body', async (_name, operation) => {
    const [taken] = life.corpus.get(operation.name) ?? [];
    // Every command is in the plant's life: without a body that is taken this would try nothing.
    expect(taken).toBeDefined();
    const body = taken?.body as object;
    const before = plant.eventCount();
    for (const [i, at] of objectsIn(body).entries()) {
      const own = Object.keys(at.reduce((one, step) => (one as never)[step], body as object));
      const names = i === 0 ? foreign : foreign.slice(0, 3);
      for (const name of names.filter((one) => !own.includes(one))) {
        const text = withMember(body, at, `${JSON.stringify(name)}:"x"`);
        const answer = await send(operation, text);
        expect(answer.status, `${text} ${answer.text}`).toBe(400);
        const pointers = (answer.body.errors as { pointer: string }[]).map((one) => one.pointer);
        // A choice of shapes is refused as a whole, or by its discriminator.
        const wanted = pointerTo(at, name);
        expect(
          pointers.some((one) => wanted.startsWith(one)),
          `${text} ${pointers}`,
        ).toBe(true);
      }
    }
    expect(plant.eventCount()).toBe(before);
  });
});

describe('names that every object inherits (API3, API8)', () => {
  const poison = [
    '"__proto__":{"roles":["admin"],"polluted":true}',
    '"constructor":{"prototype":{"polluted":true}}',
    '"__proto__":null',
    '"__proto__":[]',
  ];

  it.each(named)('are refused of %s, and no object has more than before', async (_n, operation) => {
    const [taken] = life.corpus.get(operation.name) ?? [];
    for (const at of objectsIn(taken?.body)) {
      for (const member of poison) {
        const text = withMember(taken?.body, at, member);
        const answer = await send(operation, text);
        expect(answer.status, `${text} ${answer.text}`).toBe(400);
      }
    }
    expect(Object.keys(Object.prototype)).toEqual([]);
    expect(({} as { polluted?: unknown }).polluted).toBeUndefined();
  });

  it('are refused of every address as a query, and so is any other name twice', async () => {
    for (const operation of operations.filter((one) => one.method === 'get')) {
      const as = keyOf(operation);
      const path = operation.path.replaceAll(/\{\w+\}/g, '1');
      const names = [
        '__proto__',
        'constructor',
        'toString',
        '__proto__[x]',
        'constructor.prototype',
      ];
      for (const name of names) {
        const answer = await exchange(plant, { path: `${path}?${name}=1`, as });
        expect(answer.status, `${path} ${name} ${answer.text}`).toBe(400);
        const parameters = (answer.body.errors as { parameter: string }[]).map(
          (one) => one.parameter,
        );
        expect(parameters).toContain(name);
      }
    }
    expect(({} as { x?: unknown }).x).toBeUndefined();
  });

  it('are no attribute, class, code or serial that is found where nobody put it', async () => {
    for (const name of ['__proto__', 'constructor', 'toString', 'valueOf']) {
      const addresses = [
        `/v1/units?class=${name}`,
        `/v1/orders/${name}`,
        `/v1/history?serial=${name}`,
        `/v1/engine-families/${name}`,
        `/problems/${name}`,
      ];
      for (const path of addresses) {
        const { status, body } = await exchange(plant, { path, as: 'read' });
        const found = status === 200 ? (body.items as unknown[]) : [];
        expect([200, 400, 404, 422], path).toContain(status);
        expect(found, path).toEqual([]);
      }
    }
  });
});
