import { defineConfig } from 'vitest/config';

// Tests start real brokers, browsers and servers: two files at a time on a small machine keeps them from starving
// each other, and every limit is a guard against hanging, never a measure of speed.
export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    pool: 'forks',
    maxWorkers: 2,
    testTimeout: 60_000,
    hookTimeout: 180_000,
    globalSetup: ['tests/support/global-setup.ts'],
  },
});
