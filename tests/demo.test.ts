/** The demo as it is shipped, on a log of its own. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { verifyLog } from '../src/audit/verify.ts';
import { readConfig } from '../src/config.ts';
import { DEMO_PATIENTS } from '../src/demo/patients.ts';
import { loadLibrary } from '../src/reference/library.ts';
import { readRows, temporaryFolder } from './audit/raw-log.ts';
import { ROOT, runCommand } from './audit/run-command.ts';

const folder = temporaryFolder();
const file = join(folder, 'demo.sqlite');
const { status, stdout, stderr } = runCommand(folder, ['demo', '--file', file]);

const nameOf = (patient: (typeof DEMO_PATIENTS)[number]['patient']) => patient.name?.[0]?.text ?? '';
/** What is printed about each patient, in order. */
const sections = stdout.split(/^=== /m).slice(1);

describe('the demo', () => {
  it('answers every call and ends well', () => {
    expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
    expect(stdout).toMatch(/^Alder Reach Hospital: an invented hospital with invented patients\.\n/);
  });

  it('shows each patient with the story, one after the other', () => {
    expect(sections.map((section) => section.split('\n')[0])).toEqual(
      DEMO_PATIENTS.map(({ patient, story }) => `${nameOf(patient)}: ${story}`),
    );
  });

  it('marks every name as invented, wherever it is printed, and every id as one of the demo', () => {
    for (const { patient, observations, records } of DEMO_PATIENTS) {
      const own = Object.values(records ?? {}).flat();
      const [{ family = '', given = [] } = {}] = patient.name ?? [];
      expect(nameOf(patient)).toBe(`${given[0]} ${family} (invented)`);
      const printed = stdout.split(family).length - 1;
      expect(printed).toBe(stdout.split(`${family} (invented)`).length - 1);
      expect(printed).toBeGreaterThan(0);
      for (const { id } of [patient, ...observations, ...own]) expect(id).toMatch(/^demo-/);
    }
  });

  it('names each reference set of the panel with its version', () => {
    const panel = loadLibrary(join(ROOT, 'norms')).findPanel(readConfig({}).panelId);
    const sets = panel?.panel.sets ?? [];
    expect(sets.length).toBeGreaterThan(0);
    for (const { ref } of sets) expect(stdout).toMatch(new RegExp(` ${ref.id} ${ref.version}$`, 'm'));
  });

  it('prints a card and the place on record for every patient', () => {
    const recorded = new Set(readRows(file).map(({ id }) => id));
    for (const section of sections) {
      expect(section).toMatch(/^ {2}Card \((info|warning|critical)\): \S/m);
      const id = /^ {2}Record: evaluation ([0-9a-f-]{36})$/m.exec(section)?.[1] ?? '';
      expect(recorded).toContain(id);
    }
  });

  it('prints what README shows of it', () => {
    const readme = readFileSync(join(ROOT, 'README.md'), 'utf8');
    const shown = /```\n( {2}\d{4}-\d\d-\d\d right [\s\S]*?)```/.exec(readme)?.[1] ?? '';
    expect(shown).not.toBe('');
    expect(stdout).toContain(shown);
  });

  it('prints the cautions and refusals: a hand not tested, trials that scatter, no sex, too young, a unit in doubt', () => {
    const said = (name: string) => sections.find((section) => section.startsWith(name)) ?? '';
    expect(said('Perpetua')).toMatch(/^ {2}! .*[Ll]eft hand.*no usable trial/m);
    expect(said('Casimir')).toMatch(/^ {2}! Right hand: inconsistent trials/m);
    expect(said('River')).toMatch(/^ {2}! The record gives no sex/m);
    expect(said('Juniper')).toMatch(/15/);
    expect(said('Barnaby')).toMatch(/^ {2}! .*implausible.*ordinary in lb/m);
  });

  it('says before the test which arm, from which record, and what is usual', () => {
    const said = (name: string) => sections.find((section) => section.startsWith(name)) ?? '';
    expect(said('Perpetua')).toMatch(
      /^ {2}Before the test \(warning\): Before a grip test: left arm: dialysis access\./m,
    );
    expect(said('Perpetua')).toMatch(
      /^ {4}Left arm\n {6}- Dialysis or its access: charted here as DIAL-ACCESS-L.*; .*\(Procedure\/demo-perpetua-48765000\)\. Usual: use the arm without the access/m,
    );
    expect(said('Casimir')).toMatch(
      /^ {2}Before the test \(warning\): Before a grip test: right arm: stroke\./m,
    );
    expect(said('Casimir')).toMatch(/^ {4}Side not recorded: ask\n {6}- .*Cerebral infarction/m);
    expect(stdout.match(/^ {2}Before the test/gm)).toHaveLength(2);
  });

  it('puts every answer of both doors on record, and the log that it names is whole', () => {
    const { ok, count, head } = verifyLog(file);
    const calls = DEMO_PATIENTS.flatMap(({ records }) => [
      ...(records ? ['readiness cds-hooks'] : []),
      'evaluation fhir-operation',
      'evaluation cds-hooks',
    ]);
    expect({ ok, count }).toEqual({ ok: true, count: calls.length });
    const line = `Every answer is on record: ${file}, ${count} records, whole, head ${head?.seq}:${head?.hash.slice(0, 16)}...`;
    expect(stdout).toContain(`\n${line}\n`);
    const doors = readRows(file).map(
      ({ kind, record }) => `${kind} ${JSON.parse(record).content.asked.door}`,
    );
    expect(doors).toEqual(calls);
  });

  it('leaves no name in the log', () => {
    const text = readRows(file)
      .map(({ record }) => record)
      .join();
    for (const { patient } of DEMO_PATIENTS) {
      for (const name of [patient.name?.[0]?.family ?? '', ...(patient.name?.[0]?.given ?? [])]) {
        expect(text).not.toContain(name);
      }
      expect(text).toContain(`Patient/${patient.id}`);
    }
  });
});
