import { defineConfig } from 'vitest/config';
import RequirementsReporter from './tests/requirements-reporter.ts';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    setupFiles: ['tests/setup.ts'],
    testTimeout: 20_000,
    reporters: ['default', new RequirementsReporter()],
  },
});
