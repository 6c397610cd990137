/**
 * Judges a whole series: the same answers, point by point, as one judged as it grew.
 *
 * Method: the chart's own step, taken for each value in turn from the given state.
 *
 * @param start the state before the first of these values.
 * @returns the state after the last value, and what each step answered besides it.
 *
 * @example
 * judgeSeries(startEwmaChart(baseline), [50.2, 49.7], judgeEwma).points.length; // 2
 */
export function judgeSeries<State, Value, Point extends { state: State }>(
  start: State,
  values: readonly Value[],
  judge: (state: State, value: Value) => Point,
): { state: State; points: Omit<Point, 'state'>[] } {
  let current = start;
  const points: Omit<Point, 'state'>[] = [];
  for (const value of values) {
    const { state, ...point } = judge(current, value);
    points.push(point);
    current = state;
  }
  return { state: current, points };
}
