import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';
import { SlowestFirst } from './tests/support/slowest-first.js';

export default defineConfig({
  test: {
    // A native module and a database file per test file: processes, not threads.
    pool: 'forks',
    // Left alone, one of two cores is kept free, and everything takes nearly twice as long.
    maxWorkers: Math.max(2, availableParallelism() - 1),
    // Two hundred files that each load the program anew would take a third of all the time.
    isolate: false,
    sequence: { sequencer: SlowestFirst },
    include: ['tests/**/*.test.ts'],
    setupFiles: ['tests/support/seed.ts'],
    testTimeout: 30_000,
    hookTimeout: 60_000,
    // Its own second is too short where a browser, a service and another file share two cores.
    expect: { poll: { timeout: 30_000 } },
  },
});
