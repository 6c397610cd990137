import type { Attributes } from '../http/shapes.js';
import type { Prompt } from './specification-records.js';

export interface Difference {
  code: string | null;
  change: 'added' | 'removed' | 'changed';
  member: string | null;
  from: string | null;
  to: string | null;
}

/**
 * The earliest moment at which a revision may take effect: not before it is approved,
 * and after the revision that it supersedes, so that nothing judged is judged anew.
 */
export function earliestEffect(now: number, predecessorFromMs: number | null): number {
  return predecessorFromMs === null ? now : Math.max(now, predecessorFromMs + 1);
}

/** The first attribute that two sets give different values for. */
export function conflictBetween(
  a: Attributes,
  b: Attributes,
): { attribute: string; a: string; b: string } | undefined {
  for (const [attribute, value] of Object.entries(a)) {
    const other = b[attribute];
    if (other !== undefined && other !== value) return { attribute, a: value, b: other };
  }
  return undefined;
}

/**
 * What changed from one revision of a specification to another: characteristics, then
 * prompts. A characteristic's position counts among those that both revisions have, so
 * that one added above does not move all below it.
 */
export function specificationDifferences(
  from: readonly Prompt[],
  to: readonly Prompt[],
): Difference[] {
  const before = membersByCode(from, codesOf(to));
  const after = membersByCode(to, codesOf(from));
  const codes = [...new Set([...before.keys(), ...after.keys()])];
  return [
    ...codes.flatMap((code) => characteristicDifferences(code, before.get(code), after.get(code))),
    ...promptDifferences(from, to),
  ];
}

type Members = Record<string, unknown>;

function codesOf(prompts: readonly Prompt[]): Set<string> {
  return new Set(prompts.flatMap((prompt) => prompt.characteristics.map((one) => one.code)));
}

function membersByCode(
  prompts: readonly Prompt[],
  inOther: ReadonlySet<string>,
): Map<string, Members> {
  let position = 0;
  const entries = prompts.flatMap((prompt) =>
    prompt.characteristics.map((one): [string, Members] => {
      if (!inOther.has(one.code)) return [one.code, { ...one, prompt: prompt.text }];
      position += 1;
      return [one.code, { ...one, position, prompt: prompt.text }];
    }),
  );
  return new Map(entries);
}

function characteristicDifferences(
  code: string,
  before: Members | undefined,
  after: Members | undefined,
): Difference[] {
  if (!before) return [{ code, change: 'added', member: null, from: null, to: text(after) }];
  if (!after) return [{ code, change: 'removed', member: null, from: text(before), to: null }];
  const members = [...new Set([...Object.keys(before), ...Object.keys(after)])];
  return members
    .filter((member) => text(before[member]) !== text(after[member]))
    .map((member) => ({
      code,
      change: 'changed',
      member,
      from: text(before[member]),
      to: text(after[member]),
    }));
}

function promptDifferences(from: readonly Prompt[], to: readonly Prompt[]): Difference[] {
  const line = (prompt: Prompt) =>
    prompt.caution ? `${prompt.text} (${prompt.caution})` : prompt.text;
  const before = new Set(from.map(line));
  const after = new Set(to.map(line));
  const about = { code: null, member: 'prompt' };
  return [
    ...[...before]
      .filter((one) => !after.has(one))
      .map((one): Difference => ({ ...about, change: 'removed', from: one, to: null })),
    ...[...after]
      .filter((one) => !before.has(one))
      .map((one): Difference => ({ ...about, change: 'added', from: null, to: one })),
  ];
}

function text(value: unknown): string | null {
  if (value === undefined || value === null) return null;
  return typeof value === 'string' ? value : JSON.stringify(value);
}
