import {
  closeSync,
  cpSync,
  fsyncSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  rmSync,
} from 'node:fs';
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

/**
 * Copies a data folder, and waits until the disk has it: else the first minute of commits waits
 * for gigabytes of the copy to be written.
 */
export function copyData(from: string, to: string): void {
  cpSync(from, to, { recursive: true });
  for (const name of readdirSync(to)) {
    const file = openSync(join(to, name), 'r+');
    fsyncSync(file);
    closeSync(file);
  }
}
