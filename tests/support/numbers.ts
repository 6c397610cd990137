const none = { powerhead: 0, 'lower-unit': 0, 'fuel-pump': 0, order: 0, cell: 0 };
const taken = { ...none };

/** The next number of its kind, from 1 in each test file. */
export function nextNumber(of: keyof typeof none): number {
  taken[of] += 1;
  return taken[of];
}

/** Begins anew: test files share their modules, so what they count is not to depend on their order. */
export function resetNumbers(): void {
  Object.assign(taken, none);
}
