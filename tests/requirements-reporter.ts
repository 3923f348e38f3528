/**
 * Prints, at the end of a run, each requirement of CDS Hooks with its tests and their result. A whole run in which a
 * requirement has no passing test and no reason fails.
 */
import type { Reporter, TestModule, TestRunEndReason, TestSpecification, Vitest } from 'vitest/node';
import { faultsIn, type Ran, renderTable, rowsOf } from './requirements-table.ts';

export default class RequirementsReporter implements Reporter {
  #vitest: Vitest | undefined;
  /** Paths of the test files of this run. */
  #files: ReadonlySet<string> = new Set();

  onInit(vitest: Vitest): void {
    this.#vitest = vitest;
  }

  onTestRunStart(specifications: readonly TestSpecification[]): void {
    this.#files = new Set(specifications.map(({ moduleId }) => moduleId));
  }

  async onTestRunEnd(
    modules: readonly TestModule[],
    _errors: readonly unknown[],
    reason: TestRunEndReason,
  ): Promise<void> {
    const vitest = this.#vitest;
    if (!vitest || reason === 'interrupted') return;
    const ran = modules.flatMap(testsOf);
    const isWhole = await this.#isWhole(vitest, ran);
    const rows = rowsOf(ran);
    const lines = renderTable(rows, isWhole);
    if (lines.length > 0) vitest.logger.log(`\n${lines.join('\n')}\n`);
    const faults = isWhole ? faultsIn(rows) : [];
    if (faults.length === 0) return;
    vitest.logger.error(`Requirements of CDS Hooks:\n${faults.map((fault) => `- ${fault}`).join('\n')}\n`);
    process.exitCode = 1;
  }

  /** Every test file there is, and no test left out by its name or because another one is marked `only`. */
  async #isWhole(vitest: Vitest, ran: readonly Ran[]): Promise<boolean> {
    const { testNamePattern, shard } = vitest.config;
    if (testNamePattern !== undefined || shard !== undefined) return false;
    const all = await vitest.globTestSpecifications();
    return ran.length > 0 && all.every(({ moduleId }) => this.#files.has(moduleId));
  }
}

function testsOf(module: TestModule): readonly Ran[] {
  return [...module.children.allTests()].map((test) => ({
    file: module.relativeModuleId,
    name: test.name,
    state: test.result().state,
  }));
}
