#!/usr/bin/env node
/** The command line: `grip-cds serve | demo | audit verify | audit show ID | audit replay | feedback export | results remove | references ...`. */
import { parseArgs } from 'node:util';
import { AuditFault } from './audit/audit-record.ts';
import { runAudit } from './audit-command.ts';
import { ConfigFault, SETTINGS } from './config.ts';
import { DefinitionFault } from './definitions/load-definitions.ts';
import { runDemo } from './demo/demo.ts';
import { runFeedback } from './feedback-command.ts';
import { serve } from './main.ts';
import { NormsFault } from './reference/read-norms.ts';
import { runReferences } from './references-command.ts';
import { runResults } from './results-command.ts';

/** Exit codes: 0 all well, 1 something was found wrong, 2 the command was not understood. */
const USAGE = `Usage: grip-cds <command> [options]

Commands:
  serve                 answer on the configured address until stopped
  demo                  send the invented patients through both doors and show the answers
  audit verify          check the whole audit log
  audit show ID         print the record of one evaluation, or of a card's, as JSON, with the feedback on it
  audit replay          redo every recorded evaluation and compare
  feedback export       what became of the advice on cards, and why, as CSV or NDJSON
  results remove Observation/ID  take a filed result away, with --reason; the log keeps that it was there
  references list       every reference set, rule and panel
  references show ID [VERSION]   one of them: figures, source, doubts
  references check      every digest, form and worked example
  references compare A B         limits of two sets side by side (ID or ID@VERSION)
  references lock FOLDER         check and lock the new files of a site's own folder

Options:
  -f, --file FILE       audit log (default: GRIP_CDS_AUDIT_FILE)
      --expect-head S:H audit verify: record S must have hash H (a head noted earlier)
      --reason CODE     results remove: wrong-patient, retention, request-of-patient or other
      --format FORMAT   feedback export: csv (the default) or ndjson
      --since DATE      feedback export: first day of the outcome (UTC), YYYY-MM-DD
      --until DATE      feedback export: last day, likewise
      --json            one JSON document instead of text
  -h, --help            this text

Settings (environment):
${Object.entries(SETTINGS)
  .map(([name, { meaning, fallback }]) => `  ${name.padEnd(22)} ${meaning} Default: ${fallback}`)
  .join('\n')}
`;

const OPTIONS = {
  file: { type: 'string', short: 'f' },
  'expect-head': { type: 'string' },
  reason: { type: 'string' },
  format: { type: 'string' },
  since: { type: 'string' },
  until: { type: 'string' },
  json: { type: 'boolean' },
  help: { type: 'boolean', short: 'h' },
} as const;

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = parseArgs({ args: [...args], options: OPTIONS, allowPositionals: true });
  const [command, ...rest] = positionals;
  if (values.help) {
    process.stdout.write(USAGE);
    return 0;
  }
  if (command === 'serve' && rest.length === 0) {
    await serve();
    return 0;
  }
  if (command === 'demo' && rest.length === 0) return runDemo(values.file);
  if (command === 'audit') {
    const options = { file: values.file, expectHead: values['expect-head'], json: values.json ?? false };
    const code = runAudit(rest, options);
    if (code !== undefined) return code;
  }
  if (command === 'feedback') {
    const { file, format, since, until, json } = values;
    const code = await runFeedback(rest, { file, format, since, until, json });
    if (code !== undefined) return code;
  }
  if (command === 'results') {
    const code = await runResults(rest, { file: values.file, reason: values.reason });
    if (code !== undefined) return code;
  }
  if (command === 'references') {
    const code = runReferences(rest, values.json ?? false);
    if (code !== undefined) return code;
  }
  const said = positionals.join(' ');
  process.stderr.write(`grip-cds: ${said ? `not understood: ${said}` : 'no command given'}\n\n${USAGE}`);
  return 2;
}

// A reader that has seen enough (`| head`) closes the pipe: that is no fault.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error;
});

try {
  process.exitCode = await run(process.argv.slice(2));
} catch (error) {
  if (error instanceof Error && 'code' in error && error.code === 'EADDRINUSE') {
    process.stderr.write(`grip-cds: ${error.message}; set GRIP_CDS_PORT or stop the other process\n`);
    process.exit(1);
  }
  const isUsage =
    error instanceof TypeError && 'code' in error && String(error.code).startsWith('ERR_PARSE_ARGS');
  const isKnown = [ConfigFault, NormsFault, DefinitionFault, AuditFault].some(
    (fault) => error instanceof fault,
  );
  process.stderr.write(`grip-cds: ${error instanceof Error ? error.message : String(error)}\n`);
  if (!isUsage && !isKnown && error instanceof Error) process.stderr.write(`${error.stack}\n`);
  process.exitCode = isUsage ? 2 : 1;
}
