import { statSync } from 'node:fs';

/** Bytes of a file; 0 where there is none. */
export function fileBytes(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}
