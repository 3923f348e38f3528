/** `grip-cds audit verify | show ID | replay`. */
import { existsSync } from 'node:fs';
import { AuditFault, type StoredRecord } from './audit/audit-record.ts';
import { withLog } from './audit/log-reader.ts';
import { verifyLog } from './audit/verify.ts';
import { ConfigFault, readConfig } from './config.ts';
import { replay } from './replay.ts';
import { replayAssessment } from './replay-assessment.ts';
import { openLibrary, readEngine } from './service.ts';

export interface AuditOptions {
  readonly file: string | undefined;
  /** `SEQ:HASH` */
  readonly expectHead: string | undefined;
  readonly json: boolean;
}

/**
 * @returns the exit code, or undefined when the words were not understood
 * @throws AuditFault when there is no log to read
 */
export function runAudit(words: readonly string[], options: AuditOptions): number | undefined {
  const command = commandFor(words);
  if (!command) return undefined;
  const file = options.file ?? readConfig().auditFile;
  if (!existsSync(file)) throw new AuditFault(`there is no audit log ${file}`);
  return command(file, options);
}

type Command = (file: string, options: AuditOptions) => number;

function commandFor([what, id, ...more]: readonly string[]): Command | undefined {
  if (what === 'show' && id && more.length === 0) return (file) => show(file, id);
  if (id) return undefined;
  return { verify, replay: replayAll }[what ?? ''];
}

function verify(file: string, { expectHead, json }: AuditOptions): number {
  const expectedHead = expectHead === undefined ? undefined : readHead(expectHead);
  const result = verifyLog(file, expectedHead ? { expectedHead } : {});
  if (json) print(result);
  else if (result.firstFault) {
    console.log(
      `${file}: NOT WHOLE. First fault at record ${result.firstFault.seq}: ${result.firstFault.problem}.`,
    );
  } else {
    console.log(
      `${file}: whole. ${result.count} records${result.head ? `, head ${result.head.seq}:${result.head.hash}` : ''}`,
    );
    console.log(
      'Keep the head elsewhere: only a head noted outside the file shows a cut end or a rewritten chain.',
    );
  }
  return result.ok ? 0 : 1;
}

function readHead(text: string): { seq: number; hash: string } {
  const match = /^(\d+):([0-9a-f]{64})$/.exec(text);
  if (!match) throw new ConfigFault('--expect-head must be SEQ:HASH, as printed by audit verify');
  return { seq: Number(match[1]), hash: match[2] ?? '' };
}

function show(file: string, id: string): number {
  return withLog(file, (log) => {
    // As Bundle.identifier writes it, or bare.
    const bare = id.replace(/^urn:uuid:/, '');
    const stored = log.findById(bare) ?? log.findByName(bare);
    if (!stored) throw new AuditFault(`${file} has no record ${id}`);
    const feedback = log.recordsAbout(stored.id).filter(({ kind }) => kind === 'feedback');
    print({ ...shown(stored), ...(feedback.length > 0 ? { feedback: feedback.map(shown) } : {}) });
    return 0;
  });
}

function shown({ seq, hash, record }: StoredRecord): Readonly<Record<string, unknown>> {
  return { seq, hash, record: JSON.parse(record) };
}

/** Records that rest on released rules; the others only say that something happened. */
const REDO: Readonly<Record<string, typeof replay>> = { evaluation: replay, readiness: replayAssessment };

function replayAll(file: string, { json }: AuditOptions): number {
  const { firstFault } = verifyLog(file);
  if (firstFault) throw new AuditFault(`record ${firstFault.seq}: ${firstFault.problem}: not replayed`);
  const library = openLibrary(readConfig().siteNorms);
  return withLog(file, (log) => {
    const counts = { same: 0, different: 0, 'not-replayable': 0 };
    const faults: { seq: number; id: string; outcome: string; reason: string }[] = [];
    for (const stored of log.records()) {
      const redo = REDO[stored.kind];
      if (!redo) continue;
      const result = redo(stored, library, readEngine().version);
      counts[result.outcome] += 1;
      if (result.outcome === 'same') continue;
      const reason = result.outcome === 'different' ? `the ${result.what} are not the same` : result.reason;
      faults.push({ seq: stored.seq, id: stored.id, outcome: result.outcome, reason });
    }
    if (json) print({ counts, faults });
    else {
      console.log(
        `${file}: ${counts.same} records replayed the same, ${counts.different} different, ${counts['not-replayable']} not replayable`,
      );
      for (const { seq, id, reason } of faults) console.log(`  record ${seq} (${id}): ${reason}`);
    }
    return faults.length === 0 ? 0 : 1;
  });
}

function print(value: unknown): void {
  console.log(JSON.stringify(value, null, 2));
}
