import { expect } from 'vitest';
import { judgeSeries } from '../../src/statistics/judge-series.js';

/**
 * A series judged in one go equals one judged value by value, with the state written to JSON
 * and read back between the values, as a service keeps it; and no step changes what it was given.
 */
export function expectStreamed<State, Value, Point extends { state: State }>(
  start: State,
  values: readonly Value[],
  judge: (state: State, value: Value) => Point,
): Omit<Point, 'state'>[] {
  const whole = judgeSeries(start, values, judge);
  let kept = JSON.stringify(start);
  const streamed = values.map((value) => {
    const given: State = JSON.parse(kept);
    const { state, ...point } = judge(given, value);
    expect(JSON.stringify(given)).toBe(kept);
    kept = JSON.stringify(state);
    return point;
  });
  expect(streamed).toEqual(whole.points);
  expect(JSON.parse(kept)).toEqual(JSON.parse(JSON.stringify(whole.state)));
  return whole.points;
}
