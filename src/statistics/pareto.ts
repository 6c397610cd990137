/** One category of a Pareto table. */
export interface ParetoRow {
  category: string;
  /** Occurrences, hours or whatever was summed. */
  amount: number;
  /** Its share of all, 0..1. */
  share: number;
  /** The share of all categories down to this one and those tied with it, 0..1. */
  cumulativeShare: number;
  /** 1 for the largest; tied categories have the same rank, and the next one counts them all. */
  rank: number;
}

/**
 * Causes by weight, largest first, with cumulative share.
 *
 * Method: sort, sum, divide.
 * Source: the usual Pareto table (Juran; from memory).
 * Variant: ties stand together in order of their category (by UTF-16 code unit, the same on every
 * machine) and share rank and cumulative share, so that a cut such as "the causes behind 80 %"
 * never takes one of two equals and leaves the other. Categories with amount 0 are left out.
 * Domain: amounts finite and >= 0, each category once. Nothing, or zeros only, gives no rows.
 * Accuracy: relative 1e-16 times the number of categories; the last cumulative share is exactly 1.
 * Cost: a sort.
 *
 * @example
 * pareto([['leak', 3], ['noise', 6], ['idle', 3]]);
 * // noise 6 (0.5, cumulative 0.5, rank 1), idle 3 and leak 3 (each 0.25, cumulative 1, rank 2)
 *
 * @throws RangeError outside the domain.
 */
export function pareto(
  amounts: Iterable<readonly [category: string, amount: number]>,
): ParetoRow[] {
  const seen = new Set<string>();
  const kept: { category: string; amount: number }[] = [];
  for (const [category, amount] of amounts) {
    if (!(amount >= 0 && Number.isFinite(amount))) {
      throw new RangeError(`the amount ${amount} of ${category} is not finite and at least 0`);
    }
    if (seen.has(category)) throw new RangeError(`the category ${category} comes twice`);
    seen.add(category);
    if (amount > 0) kept.push({ category, amount });
  }
  kept.sort((a, b) => b.amount - a.amount || (a.category < b.category ? -1 : 1));
  const total = kept.reduce((sum, { amount }) => sum + amount, 0);
  const rows = kept.map(({ category, amount }) => ({
    category,
    amount,
    share: amount / total,
    cumulativeShare: 0,
    rank: 0,
  }));
  let sum = 0;
  for (let from = 0; from < rows.length; ) {
    const next = rows.findIndex((row, at) => at > from && row.amount !== rows[from]?.amount);
    const tied = rows.slice(from, next === -1 ? rows.length : next);
    for (const { amount } of tied) sum += amount;
    for (const row of tied) {
      row.cumulativeShare = sum / total;
      row.rank = from + 1;
    }
    from += tied.length;
  }
  return rows;
}
