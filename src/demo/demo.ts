/** `grip-cds demo`: the invented patients through both doors of a running service, over HTTP. */
import { randomUUID } from 'node:crypto';
import type { Bundle, FhirResource, Observation, OperationOutcome, Resource } from 'fhir/r4.js';
import { verifyLog } from '../audit/verify.ts';
import { readConfig } from '../config.ts';
import { HANDEDNESS_SNOMED } from '../fhir/codes.ts';
import { openService } from '../service.ts';
import { DEMO_PATIENTS, type DemoPatient } from './patients.ts';
import { searchset } from './records.ts';
import { showReadiness } from './show-readiness.ts';

const DEMO_AUDIT_FILE = 'data/demo-audit.sqlite';

/** @returns the exit code: 0 when every call was answered and the log is whole */
export async function runDemo(auditFile = DEMO_AUDIT_FILE): Promise<number> {
  const config = { ...readConfig(), port: 0, auditFile, logLevel: 'silent' };
  const { app, store } = openService({
    config,
    logger: false,
    now: notBeforeTheStory,
    onFatal: (cause) => {
      throw cause;
    },
  });
  try {
    const base = await app.listen({ host: config.host, port: config.port });
    console.log('Alder Reach Hospital: an invented hospital with invented patients.');
    console.log(`Service at ${base}, panel ${config.panelId}, audit log ${auditFile}.\n`);
    for (const demoPatient of DEMO_PATIENTS) await showPatient(base, demoPatient);
  } finally {
    await app.close();
    store.close();
  }
  return showRecord(auditFile);
}

/** The invented tests are of November 2026; a clock that is behind must not make them future. */
function notBeforeTheStory(): Date {
  return new Date(Math.max(Date.now(), Date.parse('2026-11-21T00:00:00Z')));
}

async function showPatient(base: string, demoPatient: DemoPatient): Promise<void> {
  const { story, patient, observations, measures } = demoPatient;
  console.log(`=== ${patient.name?.[0]?.text}: ${story}`);
  const before = readinessCall(demoPatient);
  if (before) showReadiness(await post(`${base}/cds-services/grip-test-readiness`, before));
  const bundle = (await post(
    `${base}/fhir/Observation/$interpret-grip`,
    requestBundle(patient, [...observations, ...measures]),
  )) as Bundle;
  const resources = (bundle.entry ?? []).flatMap(({ resource }) => (resource ? [resource] : []));
  showTrials(observations);
  showMeasures(measures);
  showResults(resources.filter(isObservation));
  showOutcome(resources.find(isOutcome));
  const { cards } = (await post(`${base}/cds-services/grip-interpretation`, hookCall(demoPatient))) as {
    cards: { summary: string; indicator: string }[];
  };
  for (const { indicator, summary } of cards) console.log(`  Card (${indicator}): ${summary}`);
  console.log(`  Record: ${bundle.identifier?.value?.replace('urn:uuid:', 'evaluation ')}\n`);
}

function requestBundle(patient: FhirResource, observations: readonly Observation[]): Bundle {
  return {
    resourceType: 'Bundle',
    type: 'collection',
    entry: [patient, ...observations].map((resource) => ({ resource })),
  };
}

/** Undefined where the story has no such records. */
function readinessCall({ patient, observations, records }: DemoPatient): unknown {
  if (!records) return undefined;
  const { conditions, procedures, lines } = records;
  return {
    hook: 'patient-view',
    hookInstance: randomUUID(),
    context: { userId: 'Practitioner/demo-dietitian', patientId: patient.id },
    prefetch: {
      patient,
      conditions: searchset(conditions),
      procedures: searchset(procedures),
      devices: null,
      grip: searchset(observations),
      handedness: null,
      lines: searchset(lines),
    },
  };
}

function hookCall({ patient, observations, measures }: DemoPatient): unknown {
  return {
    hook: 'patient-view',
    hookInstance: randomUUID(),
    context: { userId: 'Practitioner/demo-dietitian', patientId: patient.id },
    prefetch: { patient, grip: searchset(observations), measures: searchset(measures) },
  };
}

async function post(url: string, body: unknown): Promise<unknown> {
  const response = await fetch(url, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(body),
  });
  const reply = await response.json();
  if (!response.ok) throw new Error(`${url} answered ${response.status}: ${JSON.stringify(reply)}`);
  return reply;
}

function isObservation(resource: Resource): resource is Observation {
  return resource.resourceType === 'Observation';
}

function isOutcome(resource: Resource): resource is OperationOutcome {
  return resource.resourceType === 'OperationOutcome';
}

function showTrials(observations: readonly Observation[]): void {
  const sittings = new Map<string, string[]>();
  for (const { code, effectiveDateTime, valueQuantity } of observations) {
    const hand = code.coding?.[0]?.display?.includes('right') ? 'right' : 'left';
    const key = `${effectiveDateTime?.slice(0, 10)} ${hand.padEnd(5)}`;
    const reading = valueQuantity ? `${valueQuantity.value} ${valueQuantity.code}` : 'not performed';
    sittings.set(key, [...(sittings.get(key) ?? []), reading]);
  }
  for (const [key, readings] of sittings) console.log(`  ${key}  ${readings.join(', ')}`);
}

function showMeasures(measures: readonly Observation[]): void {
  const said = measures.map(({ code, valueQuantity, valueCodeableConcept }) => {
    const [coding] = code.coding ?? [];
    const name = MEASURE_NAMES[coding?.code ?? ''] ?? coding?.code;
    const value = valueQuantity
      ? `${valueQuantity.value} ${valueQuantity.unit}`
      : valueCodeableConcept?.coding?.[0]?.display;
    return `${name} ${value}`;
  });
  if (said.length > 0) console.log(`  Also in the record: ${said.join(', ')}`);
}

const MEASURE_NAMES: Readonly<Record<string, string>> = {
  '8302-2': 'height',
  '29463-7': 'weight',
  'gait-speed': 'gait speed',
  [HANDEDNESS_SNOMED]: 'handedness',
};

function showResults(observations: readonly Observation[]): void {
  const rows = observations.map((observation) => {
    const {
      effectiveDateTime = '',
      code,
      valueQuantity,
      valueCodeableConcept,
      referenceRange,
      component,
    } = observation;
    const verdict = valueCodeableConcept?.coding?.[0]?.code;
    const figure = valueQuantity ? `${valueQuantity.value} ${valueQuantity.unit}` : undefined;
    const columns = (component ?? [])
      .filter((part) => part.valueCodeableConcept)
      .map(
        (part) =>
          `${part.code.coding?.[0]?.code?.replace('column-', '')}: ${part.valueCodeableConcept?.coding?.[0]?.code}`,
      );
    const standing = columns.length > 0 ? columns.join(', ') : 'not applied';
    const text = referenceRange?.[0]?.text ?? '';
    return [
      effectiveDateTime.slice(0, 10),
      (code.text ?? '').replace('Grip strength, ', '').replace('Grip strength against ', ''),
      figure ?? verdict ?? standing,
      /reduced is ([^.]*(?:\.\d+)?[^.]*)\. /.exec(text)?.[1] ?? '',
      /\(([^()|]+)\|([^()]+)\)$/.exec(text)?.slice(1).join(' ') ?? '',
    ];
  });
  const widths = [0, 1, 2, 3].map((column) => Math.max(0, ...rows.map((row) => row[column]?.length ?? 0)));
  for (const row of rows) {
    console.log(
      `    ${row
        .map((cell, column) => cell.padEnd(widths[column] ?? 0))
        .join('  ')
        .trimEnd()}`,
    );
  }
}

function showOutcome(outcome: OperationOutcome | undefined): void {
  const said = (outcome?.issue ?? []).filter(({ severity }) => severity !== 'information');
  for (const text of new Set(said.map(({ details }) => details?.text))) console.log(`  ! ${text}`);
  const changes = (outcome?.issue ?? []).flatMap(({ details }) =>
    / hand since /.test(details?.text ?? '') ? [details?.text] : [],
  );
  for (const text of changes) console.log(`  ~ ${text}`);
}

function showRecord(auditFile: string): number {
  const { ok, count, head, firstFault } = verifyLog(auditFile);
  if (!ok) {
    console.log(`The audit log is NOT whole: record ${firstFault?.seq}: ${firstFault?.problem}`);
    return 1;
  }
  console.log(
    `Every answer is on record: ${auditFile}, ${count} records, whole, head ${head?.seq}:${head?.hash.slice(0, 16)}...`,
  );
  console.log(`See one:  node dist/cli.js audit show <evaluation> --file ${auditFile}`);
  console.log(`Redo all: node dist/cli.js audit replay --file ${auditFile}`);
  return 0;
}
