import type { Plant } from '../plant.js';

/** What a cell is told with every run that it posts. */
export interface CellNotice {
  kind: 'reference-overdue' | 'reference-shifted';
  /** In words. */
  detail: string;
}

/** What to tell a cell about its reference motors at an instant; empty where all is well. */
export function cellNotices(_plant: Plant, _cell: string, _now: number): CellNotice[] {
  return [];
}
