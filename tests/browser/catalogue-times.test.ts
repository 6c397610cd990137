import { DateTime } from 'luxon';
import { describe, expect, it } from 'vitest';
import { instantOf } from '../../src/pages/scripts/catalogue/instant.js';

/** What luxon, which the service tells times by, makes of the same. */
function byLuxon(local: string, zone: string): string {
  return DateTime.fromISO(local, { zone }).toUTC().toISO() ?? '';
}

const zones = ['UTC', 'Europe/Berlin', 'America/St_Johns', 'Asia/Kathmandu', 'Pacific/Auckland'];
const times = [
  '2026-01-15T00:00',
  '2026-07-15T23:59',
  // Around the change of the clock in Europe and in New Zealand.
  '2026-03-29T01:59',
  '2026-03-29T03:00',
  '2026-10-25T04:00',
  '2026-09-27T01:59',
  '2026-09-27T03:00',
];

describe('a date and time of the plant as an instant', () => {
  it.each(zones)('is what luxon makes of it in %s', (zone) => {
    for (const local of times) {
      expect([local, instantOf(local, zone)]).toEqual([local, byLuxon(local, zone)]);
    }
  });

  it('leaves what is no date as it is, for the service to refuse', () => {
    expect(instantOf('soon', 'UTC')).toBe('soon');
  });
});
