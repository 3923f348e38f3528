/** The script of the guide that makes a key and signs a token, run as it is printed. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import { openForTests } from '../service-for-tests.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'grip-guide-'));
afterAll(() => rmSync(folder, { recursive: true }));

const PUBLIC_URL = 'http://127.0.0.1:8080';

/** As a reader would: saved beside the packages of a checkout. */
function run(address: string): { token: string; told: string } {
  const told = join(folder, 'told.txt');
  const command = `node token.mjs '${address}' 2>'${told}'`;
  const token = execFileSync('sh', ['-c', command], { cwd: folder, encoding: 'utf8' }).trim();
  return { token, told: readFileSync(told, 'utf8') };
}

describe('the script of docs/hooks.md', () => {
  it('T3, T4, T5, T8: signs tokens that are let in with the key set that it prints', async () => {
    const guide = readFileSync(join(ROOT, 'docs/hooks.md'), 'utf8');
    const [, script = ''] = /```js\n([\s\S]*?)```/.exec(guide) ?? [];
    expect(script).toContain('token.mjs');
    symlinkSync(join(ROOT, 'node_modules'), join(folder, 'node_modules'));
    writeFileSync(join(folder, 'token.mjs'), script);
    const first = run(`${PUBLIC_URL}/cds-services`);
    const clientsFile = join(folder, 'clients.json');
    const jwt = { issuer: 'https://ehr.alder-reach.example/', keys: JSON.parse(first.told) };
    writeFileSync(clientsFile, JSON.stringify({ clients: [{ name: 'tried', jwt }] }));
    const service = await openForTests(() => new Date(), undefined, { clientsFile, publicUrl: PUBLIC_URL });
    const discover = (token: string) =>
      service.get('/cds-services', { authorization: `Bearer ${token}` }).then(({ status }) => status);
    // One key for all tokens, and a token for each call.
    const second = run(`${PUBLIC_URL}/cds-services`);
    expect(second.told).toBe('');
    expect(await discover(first.token)).toBe(200);
    expect(await discover(second.token)).toBe(200);
    expect(await discover(second.token)).toBe(401);
    expect(await discover(run(`${PUBLIC_URL}/cds-services/grip-interpretation`).token)).toBe(401);
    await service.close();
  });
});
