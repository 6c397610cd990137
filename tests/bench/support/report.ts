import { quantile } from '../../../src/statistics/quantile.js';

/** One measured figure beside its goal; `met` is null where it only informs. */
export interface Finding {
  what: string;
  measured: string;
  goal: string;
  met: boolean | null;
}

/** What a benchmark is run with. */
export interface BenchOptions {
  /** The whole measurement, not the short form. */
  full: boolean;
  motors: number | undefined;
  requests: number | undefined;
  /** Folder of CPU profiles of the service; undefined where none are wanted. */
  profile: string | undefined;
  /** Says what is being done. */
  say: (line: string) => void;
}

export interface Bench {
  name: string;
  about: string;
  run: (options: BenchOptions) => Promise<Finding[]>;
}

/** A figure that informs and has no goal. */
export function note(what: string, measured: string): Finding {
  return { what, measured, goal: '', met: null };
}

interface Latency {
  p50: number;
  p99: number;
}

/** Latencies in milliseconds beside the goal of their slowest hundredth. */
export function p99Finding(what: string, { p50, p99 }: Latency, goalMs: number): Finding {
  return {
    what,
    measured: `p50 ${figure(p50)}, p99 ${figure(p99)} ms`,
    goal: `p99 under ${goalMs} ms`,
    met: p99 < goalMs,
  };
}

/** The middle of a few rounds' latencies, each figure by itself. */
export function medianLatency(rounds: readonly Latency[]): Latency {
  return {
    p50: median(rounds.map((one) => one.p50)),
    p99: median(rounds.map((one) => one.p99)),
  };
}

/** The middle of a few rounds. */
export function median(values: readonly number[]): number {
  return quantile(values, 0.5);
}

/** A number with thousands separated, at three significant digits where it is small. */
export function figure(value: number): string {
  if (Math.abs(value) >= 1000) return Math.round(value).toLocaleString('en-US');
  return Number(value.toPrecision(3)).toString();
}

/** p50, p99 and the largest of a sample of milliseconds. */
export function latencies(sample: readonly number[]): { p50: number; p99: number; text: string } {
  const p50 = quantile(sample, 0.5);
  const p99 = quantile(sample, 0.99);
  const largest = quantile(sample, 1);
  const text = `p50 ${figure(p50)}, p99 ${figure(p99)}, max ${figure(largest)} ms`;
  return { p50, p99, text };
}

/** The findings as a table of text, a line each. */
export function tableOf(findings: readonly Finding[]): string {
  const head = { what: 'what', measured: 'measured', goal: 'goal', met: 'met' };
  const rows = findings.map(({ met, ...rest }) => ({
    ...rest,
    met: met === null ? '' : met ? 'yes' : 'NO',
  }));
  const members = ['what', 'measured', 'goal', 'met'] as const;
  const all = [head, ...rows];
  const widths = members.map((name) => Math.max(...all.map((row) => row[name].length)));
  return all
    .map((row) =>
      members
        .map((name, i) => row[name].padEnd(widths[i] ?? 0))
        .join('  ')
        .trimEnd(),
    )
    .join('\n');
}
