/** Puts the service together: norms -> audit log -> application. Opens files; does not listen. */
import { createHash, randomUUID } from 'node:crypto';
import { existsSync, readFileSync, statSync } from 'node:fs';
import { resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { FastifyBaseLogger, FastifyInstance } from 'fastify';
import type { ConceptMap } from 'fhir/r4.js';
import type { AuditStore } from './audit/audit-record.ts';
import { openDocumentsInMemory } from './audit/document-store.ts';
import { openSqliteStore } from './audit/sqlite-store.ts';
import { verifyLog } from './audit/verify.ts';
import { type ConfiguredClient, readClients } from './clients.ts';
import { type Config, ConfigFault } from './config.ts';
import { loadDefinitions } from './definitions/load-definitions.ts';
import type { DocumentReader } from './document.ts';
import { RequestError } from './errors.ts';
import type { LocalCodes } from './fhir/local-codes.ts';
import { readConceptMap } from './fhir/read-concept-map.ts';
import { draftOfDefinition } from './fhir/write-draft.ts';
import { type Access, accessFor } from './http/access.ts';
import { buildApp } from './http/build-app.ts';
import { outbound } from './outbound/outbound.ts';
import { loadLibrary, type ReferenceLibrary } from './reference/library.ts';
import { TrustFault, verifierFor } from './trust/verify-token.ts';

/** src/ and dist/ both lie one level below the package. */
const PACKAGE_ROOT = new URL('../', import.meta.url);

/** Records at the end of the log that are verified at every start; `grip-cds audit verify` checks them all. */
const TAIL_CHECKED = 1_000;

export interface Service {
  readonly app: FastifyInstance;
  readonly store: AuditStore;
  readonly library: ReferenceLibrary;
}

export interface ServiceOptions {
  readonly config: Config;
  readonly logger: FastifyBaseLogger | false;
  /** Called once when the audit log can no longer be written: the process must stop. */
  readonly onFatal: (cause: unknown) => void;
  readonly now?: () => Date;
  /** Milliseconds for what a hook call has fetched; absent: 400. */
  readonly fetchBudgetMs?: number | undefined;
}

/** @throws NormsFault, AuditFault or ConfigFault: the start stops */
export function openService({
  config,
  logger,
  onFatal,
  now = () => new Date(),
  fetchBudgetMs,
}: ServiceOptions): Service {
  const library = openLibrary(config.siteNorms);
  if (!library.findPanel(config.panelId)) {
    throw new ConfigFault(`GRIP_CDS_PANEL must be one of: ${library.panelIds.join(', ')}`);
  }
  const local = openLocalCodes(config.localCodes);
  const store = openSqliteStore({ file: config.auditFile, now, onFatal });
  checkTail(config.auditFile, store);
  const access = openAccessRule(config, store, now);
  const app = buildApp({
    library,
    store,
    engine: readEngine(),
    defaultPanelId: config.panelId,
    localCodes: local?.codes,
    now,
    newId: randomUUID,
    logger,
    definitions: openDefinitions(library, local?.map, now().toISOString()),
    access,
    isProtected: config.clientsFile !== null,
    publicUrl: config.publicUrl,
    chartedHook: config.chartedHook,
    fetchBudgetMs,
    corsOrigins: config.corsOrigins,
  });
  return { app, store, library };
}

/**
 * The released reference sets of this installation, and those of a site's own folder.
 * @throws NormsFault, or ConfigFault when the site's folder is not there
 */
export function openLibrary(siteNorms?: string): ReferenceLibrary {
  const site = siteNorms && resolve(siteNorms);
  if (site && !statSync(site, { throwIfNoEntry: false })?.isDirectory()) {
    throw new ConfigFault(`GRIP_CDS_SITE_NORMS must be a folder: there is none at ${site}`);
  }
  return loadLibrary(fileURLToPath(new URL('norms/', PACKAGE_ROOT)), site);
}

/** @throws ConfigFault; the store is closed then */
function openAccessRule(config: Config, store: AuditStore, now: () => Date): Access {
  try {
    const clients = clientsOf(config);
    const { publicUrl, fhirServers } = config;
    if (!clients?.some(({ jwt }) => jwt)) return accessFor(clients, fhirServers);
    if (publicUrl === null) {
      throw new ConfigFault(
        'GRIP_CDS_PUBLIC_URL must be set: tokens that clients sign name the address called',
      );
    }
    const { claimOnce } = store;
    return accessFor(clients, fhirServers, verifierFor(clients, { publicUrl, claimOnce, outbound, now }));
  } catch (fault) {
    store.close();
    throw fault instanceof TrustFault ? new ConfigFault(`GRIP_CDS_CLIENTS: ${fault.message}`) : fault;
  }
}

/** @throws ConfigFault */
function clientsOf({ clientsFile }: Config): readonly ConfiguredClient[] | null {
  if (clientsFile === null) return null;
  if (!existsSync(clientsFile)) throw new ConfigFault(`GRIP_CDS_CLIENTS: there is no file ${clientsFile}`);
  return readClients(readFileSync(clientsFile, 'utf8'));
}

/**
 * Profiles, terminology and every released file, as FHIR resources; of maps of local codes the one that is read.
 * @throws DefinitionFault
 */
export function openDefinitions(
  library: ReferenceLibrary,
  map: ConceptMap | undefined,
  startedAt: string,
): DocumentReader {
  const shipped = loadDefinitions(fileURLToPath(PACKAGE_ROOT), library);
  const others = shipped.filter(({ resourceType }) => resourceType !== 'ConceptMap');
  const definitions = map ? [...others, { ...map, id: map.id ?? 'local-grip-codes' }] : others;
  return openDocumentsInMemory(definitions.map((definition) => draftOfDefinition(definition, startedAt)));
}

/** Invented codes of an invented hospital: an example to start from. */
const SHIPPED_LOCAL_CODES = new URL('terminology/ConceptMap-local-grip-codes.json', PACKAGE_ROOT);

/**
 * @param file of the site's ConceptMap; `none`: no local code is read; absent: the shipped one
 * @throws ConfigFault naming the file, or the element at fault
 */
export function openLocalCodes(file?: string): { codes: LocalCodes; map: ConceptMap } | undefined {
  if (file === 'none') return undefined;
  const path = file === undefined ? fileURLToPath(SHIPPED_LOCAL_CODES) : resolve(file);
  const setting = `GRIP_CDS_LOCAL_CODES: ${path}`;
  if (!statSync(path, { throwIfNoEntry: false })?.isFile()) throw new ConfigFault(`${setting} is not a file`);
  const content = readFileSync(path);
  try {
    const map = JSON.parse(content.toString('utf8'));
    return { codes: readConceptMap(map, createHash('sha256').update(content).digest('hex')), map };
  } catch (fault) {
    if (fault instanceof SyntaxError) throw new ConfigFault(`${setting} is not JSON`);
    if (!(fault instanceof RequestError)) throw fault;
    const said = fault.issues.map(({ expression, text }) => `${expression} ${text}`);
    throw new ConfigFault(`${setting}: ${said.join('; ')}`);
  }
}

/** Name and version of this installation. */
export function readEngine(): { name: string; version: string } {
  const { name, version } = JSON.parse(readFileSync(new URL('package.json', PACKAGE_ROOT), 'utf8'));
  return { name, version };
}

function checkTail(file: string, store: AuditStore): void {
  const { seq } = store.head();
  if (seq === 0 || !existsSync(file)) return;
  const { firstFault } = verifyLog(file, { fromSeq: Math.max(1, seq - TAIL_CHECKED + 1) });
  if (firstFault) {
    store.close();
    throw new ConfigFault(`GRIP_CDS_AUDIT_FILE: record ${firstFault.seq}: ${firstFault.problem}`);
  }
}
