const MINUTE_MS = 60_000;

/** How far a time zone's clock is ahead of UTC at an instant, in milliseconds. */
function offsetAt(ms: number, timeZone: string): number {
  const parts = new Intl.DateTimeFormat('en-US', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
  }).formatToParts(ms);
  const [year = 0, month = 1, day = 1, hour = 0, minute = 0] = [
    'year',
    'month',
    'day',
    'hour',
    'minute',
  ].map((type) => Number(parts.find((one) => one.type === type)?.value));
  return Date.UTC(year, month - 1, day, hour, minute) - Math.floor(ms / MINUTE_MS) * MINUTE_MS;
}

/**
 * The instant of a local date and time, `YYYY-MM-DDTHH:mm`, in a time zone, as RFC 3339; the
 * text itself where it is none, so that the service can say what is wrong. Of a time that a
 * change of the clock leaves out or brings twice, one of the two readings.
 */
export function instantOf(local: string, timeZone: string): string {
  const asUtc = Date.parse(`${local}Z`);
  if (Number.isNaN(asUtc)) return local;
  const near = asUtc - offsetAt(asUtc, timeZone);
  return new Date(asUtc - offsetAt(near, timeZone)).toISOString();
}
