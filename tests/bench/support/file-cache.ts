import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createReadStream, readFileSync, rmSync } from 'node:fs';

export interface Kept {
  /** In words, how it is kept. */
  how: string;
  letGo(): void;
}

/**
 * Puts a file into memory, as a plant's own machine would hold it after a day: else the first
 * touch of each of a thousand motors is a measurement of the disk. Where `vmtouch` (a Debian
 * package) is installed it stays there; else a machine that takes idle memory back, as a
 * virtual one may, makes some calls wait for the disk again.
 */
export async function keepInMemory(path: string): Promise<Kept> {
  const pidFile = `${path}.locked-by`;
  // As a daemon (d) that locks (l), which the program ends by once all is locked (w).
  const locking = spawn('vmtouch', ['-dlw', '-m', '1000G', '-P', pidFile, path], {
    stdio: 'ignore',
  });
  const [code] = await once(locking, 'exit').catch(() => [1]);
  if (code !== 0) {
    await readThrough(path);
    return { how: 'read once before, not locked in memory', letGo: () => undefined };
  }
  const pid = Number(readFileSync(pidFile, 'utf8'));
  return {
    how: 'locked in memory',
    letGo: () => {
      process.kill(pid);
      rmSync(pidFile, { force: true });
    },
  };
}

async function readThrough(path: string): Promise<void> {
  for await (const chunk of createReadStream(path, { highWaterMark: 8 * 1024 * 1024 })) {
    if (chunk.length === 0) break;
  }
}
