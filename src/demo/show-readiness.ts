/** The card of grip-test-readiness as lines for a terminal: its summary, and what its detail says of each arm. */

/** @param reply `{cards}` */
export function showReadiness(reply: unknown): void {
  for (const { indicator, summary, detail } of (reply as { cards: readonly ReadinessCard[] }).cards) {
    console.log(`  Before the test (${indicator}): ${summary}`);
    for (const line of armLines(detail)) console.log(line);
  }
}

interface ReadinessCard {
  readonly indicator: string;
  readonly summary: string;
  readonly detail: string;
}

/** The sections before the one that says when it was last measured, without their markup. */
function armLines(detail: string): readonly string[] {
  const [arms = ''] = detail.split('**Last measured**');
  return arms
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => line.replace(/\\(?=[^\w\s])/g, ''))
    .map((line) => (line.startsWith('**') ? `    ${line.replaceAll('**', '')}` : `      ${line}`));
}
