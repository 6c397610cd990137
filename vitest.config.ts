import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    // A native module and a database file per test file: processes, not threads.
    pool: 'forks',
    // Left alone, one of two cores is kept free, and everything takes nearly twice as long.
    maxWorkers: Math.max(2, availableParallelism() - 1),
    include: ['tests/**/*.test.ts'],
    setupFiles: ['tests/support/seed.ts'],
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
});
