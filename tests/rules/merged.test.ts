import { describe, expect, it } from 'vitest';
import { merged } from '../../src/merged.js';

describe('merged members', () => {
  it('stand in their order, those of the second in place of those of the first', () => {
    const one = { id: 1, state: 'open' };
    const other = { state: 'closed', at: 5 };
    const both = merged(one, other);
    expect(JSON.stringify(both)).toBe('{"id":1,"state":"closed","at":5}');
    expect([one, other]).toEqual([
      { id: 1, state: 'open' },
      { state: 'closed', at: 5 },
    ]);
  });
});
