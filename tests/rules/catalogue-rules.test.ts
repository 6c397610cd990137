import { describe, expect, it } from 'vitest';
import {
  conflictBetween,
  earliestEffect,
  specificationDifferences,
} from '../../src/catalogue/rules.js';
import type { Prompt } from '../../src/catalogue/specification-records.js';
import type { Characteristic } from '../../src/testing/rules.js';

describe('earliestEffect', () => {
  it('is now for a first revision', () => {
    expect(earliestEffect(1000, null)).toBe(1000);
  });

  it('is now where the predecessor is in force already', () => {
    expect(earliestEffect(1000, 400)).toBe(1000);
  });

  it('is a millisecond after a predecessor that takes effect now or later', () => {
    expect(earliestEffect(1000, 1000)).toBe(1001);
    expect(earliestEffect(1000, 5000)).toBe(5001);
  });
});

describe('conflictBetween', () => {
  it('finds the first attribute with two values', () => {
    expect(conflictBetween({ a: '1', b: '2', c: '3' }, { c: '4', b: '5', d: '6' })).toEqual({
      attribute: 'b',
      a: '2',
      b: '5',
    });
  });

  it('finds nothing where both say the same, or different things', () => {
    expect(conflictBetween({ a: '1', b: '2' }, { a: '1', c: '3' })).toBeUndefined();
  });
});

describe('specificationDifferences', () => {
  const measured = (code: string, more: object = {}): Characteristic => ({
    kind: 'measured',
    code,
    name: code,
    required: true,
    unit: 'kPa',
    lower: 1,
    upper: 2,
    guardBand: 0,
    nominal: null,
    standardUncertainty: null,
    decimals: 3,
    ...more,
  });
  const prompt = (text: string, ...characteristics: Characteristic[]): Prompt => ({
    text,
    caution: null,
    characteristics,
  });

  it('are none between a revision and itself', () => {
    const prompts = [prompt('Idle', measured('a'), measured('b')), prompt('Stop')];
    expect(specificationDifferences(prompts, prompts)).toEqual([]);
  });

  it('name each changed member with both values', () => {
    const from = [prompt('Idle', measured('a'))];
    const to = [prompt('Idle', measured('a', { upper: 2.5, nominal: 1.5, unit: 'Pa' }))];
    expect(specificationDifferences(from, to)).toEqual([
      { code: 'a', change: 'changed', member: 'unit', from: 'kPa', to: 'Pa' },
      { code: 'a', change: 'changed', member: 'upper', from: '2', to: '2.5' },
      { code: 'a', change: 'changed', member: 'nominal', from: null, to: '1.5' },
    ]);
  });

  it('name what was added and what was removed, and not that all below it moved', () => {
    const from = [prompt('Idle', measured('a'), measured('b'), measured('c'))];
    const to = [prompt('Idle', measured('new'), measured('b'), measured('c'))];
    const found = specificationDifferences(from, to);
    expect(found.map(({ code, change }) => [code, change])).toEqual([
      ['a', 'removed'],
      ['new', 'added'],
    ]);
    expect(JSON.parse(found[1]?.to ?? '')).toMatchObject({ code: 'new', upper: 2 });
  });

  it('name the positions of two that changed places', () => {
    const from = [prompt('Idle', measured('a'), measured('b'))];
    const to = [prompt('Idle', measured('b'), measured('a'))];
    expect(specificationDifferences(from, to)).toEqual([
      { code: 'a', change: 'changed', member: 'position', from: '1', to: '2' },
      { code: 'b', change: 'changed', member: 'position', from: '2', to: '1' },
    ]);
  });

  it('name a characteristic that moved to another prompt', () => {
    const from = [prompt('Idle', measured('a')), prompt('Full', measured('b'))];
    const to = [prompt('Idle', measured('a'), measured('b')), prompt('Full')];
    expect(specificationDifferences(from, to)).toEqual([
      { code: 'b', change: 'changed', member: 'prompt', from: 'Full', to: 'Idle' },
    ]);
  });

  it('name a change of kind member by member', () => {
    const from = [prompt('Idle', measured('a'))];
    const to = [
      prompt('Idle', { kind: 'attribute', code: 'a', name: 'a', required: true, expected: true }),
    ];
    const members = specificationDifferences(from, to).map((one) => [one.member, one.to]);
    expect(members).toContainEqual(['kind', 'attribute']);
    expect(members).toContainEqual(['expected', 'true']);
    expect(members).toContainEqual(['upper', null]);
  });

  it('name prompts that came, went or got another caution', () => {
    const from = [prompt('Idle', measured('a')), prompt('Stop')];
    const to = [{ ...prompt('Idle', measured('a')), caution: 'Hot' }, prompt('Cool down')];
    const about = { code: null, member: 'prompt' };
    expect(specificationDifferences(from, to)).toEqual([
      { ...about, change: 'removed', from: 'Idle', to: null },
      { ...about, change: 'removed', from: 'Stop', to: null },
      { ...about, change: 'added', from: null, to: 'Idle (Hot)' },
      { ...about, change: 'added', from: null, to: 'Cool down' },
    ]);
  });
});
