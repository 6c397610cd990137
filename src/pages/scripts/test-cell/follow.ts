/**
 * Which prompt is in hand after readings came. A prompt whose last open code was read gives
 * way to the next; where the cell's software is ahead, the prompt that it reads is in hand.
 * Nobody is taken away from a prompt that still lacks something.
 * @param at the prompt in hand, from 0
 * @param prompts the codes that each prompt reads
 * @param before codes that had no value
 * @param now codes that have none
 */
export function follow(
  at: number,
  prompts: readonly (readonly string[])[],
  before: ReadonlySet<string>,
  now: ReadonlySet<string>,
): number {
  const codes = prompts[at] ?? [];
  if (codes.some((code) => now.has(code))) return at;
  const isRead = (code: string) => before.has(code) && !now.has(code);
  const reading = prompts.findLastIndex((one) => one.some(isRead));
  if (reading < 0) return at;
  const reached = Math.max(at, reading);
  const lacks = (prompts[reached] ?? []).some((code) => now.has(code));
  return lacks ? reached : Math.min(reached + 1, prompts.length - 1);
}
