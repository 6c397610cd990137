import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { packageFile } from '../../../src/package-root.js';

/** Where benchmarks keep files: on the disk that the service would use, never in a memory disk. */
export function benchFolder(...steps: string[]): string {
  const folder = packageFile('data', 'bench', ...steps);
  mkdirSync(folder, { recursive: true });
  return folder;
}

/** Runs work in a fresh folder that is removed afterwards, however it ends. */
export async function inFreshFolder<T>(work: (folder: string) => Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(benchFolder(), 'run-'));
  try {
    return await work(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
