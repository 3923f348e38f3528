/** Starts the service, listens, and stops gracefully. */
import closeWithGrace from 'close-with-grace';
import { pino } from 'pino';
import { type Config, readConfig } from './config.ts';
import { openService } from './service.ts';

/** How long running requests may finish after a stop is asked for. */
const GRACE_MS = 10_000;

/**
 * Listens until the process is told to stop.
 * @throws ConfigFault, NormsFault, AuditFault, or the system's error when the address cannot be taken
 */
export async function serve(config: Config = readConfig()): Promise<void> {
  const logger = pino({ level: config.logLevel });
  const { app, store } = openService({ config, logger, onFatal: stopOnFailure });
  closeWithGrace({ delay: GRACE_MS, logger, skip: ['beforeExit'] }, async ({ err }) => {
    if (err) logger.fatal({ err }, 'stopping');
    await app.close();
    const { seq, hash } = store.head();
    store.close();
    logger.info({ records: seq, head: hash }, 'audit log closed');
  });
  const { seq, hash } = store.head();
  logger.info({ auditFile: config.auditFile, records: seq, head: hash }, 'audit log open');
  await app.listen({ host: config.host, port: config.port });
  if (config.clientsFile === null) {
    logger.warn('access is open: anyone who reaches this loopback address is answered');
  }
}

/** A log that cannot keep what it acknowledges ends the process: running replies get 503, then exit code 1. */
function stopOnFailure(cause: unknown): void {
  setImmediate(() => {
    throw new Error('the audit log failed', { cause });
  });
}
