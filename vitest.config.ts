import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    // A native module and a database file per test file: processes, not threads.
    pool: 'forks',
    include: ['tests/**/*.test.ts'],
    setupFiles: ['tests/support/seed.ts'],
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
});
