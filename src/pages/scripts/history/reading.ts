/** A reading as its place in the page carries it. */
export interface Reading {
  /** Of the chart's place. */
  id: string;
  name: string;
  code: string;
  value: number;
  /** UCUM code. */
  unit: string | null;
  /** What people read for it. */
  symbol: string;
  decimals: number;
  lower: number | null;
  upper: number | null;
  acceptLower: number | null;
  acceptUpper: number | null;
  model: string;
  cell: string;
  endedAt: string | null;
}

/** With which runs readings are compared. */
export interface Compared {
  /** Days before and after the run; 0: all. */
  days: number;
  cells: 'all' | 'same';
}

/** One class of a histogram. */
export interface ClassOfValues {
  from: number;
  until: number;
  count: number;
  /** Address of the readings of the class. */
  link: string;
}

/** What of /v1/capability is drawn. */
export interface Capability {
  characteristic: { unit: string; decimals: number };
  count: number;
  moments: { mean: number | null; standardDeviation: number | null };
  histogram: { classes: ClassOfValues[] };
}
