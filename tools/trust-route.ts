/**
 * Two routes that differ in one thing. `verify`: nothing but the signature check, by the same library with the key imported
 * once. `access`: the whole access check of the service, with the used token on disk before the answer leaves.
 * Prints its port. Run by tools/bench-trust.ts: trust-route.ts verify|access CLIENTS_FILE AUDIT_FILE
 */
import { readFileSync } from 'node:fs';
import Fastify from 'fastify';
import { compactVerify, importJWK, type JWK } from 'jose';
import { openSqliteStore } from '../src/audit/sqlite-store.ts';
import { readClients } from '../src/clients.ts';
import { accessFor, requireAccess } from '../src/http/access.ts';
import { answerOnce } from '../src/http/once-only.ts';
import { outbound } from '../src/outbound/outbound.ts';
import { verifierFor } from '../src/trust/verify-token.ts';
import { BENCH_URL } from './bench-tokens.ts';

const [, , mode, clientsFile = '', file = ''] = process.argv;
const clients = readClients(readFileSync(clientsFile, 'utf8'));
const app = Fastify();
if (mode === 'access') {
  const now = () => new Date();
  const store = openSqliteStore({
    file,
    now,
    onFatal: (cause) => {
      throw cause;
    },
  });
  const { claimOnce } = store;
  const verify = verifierFor(clients, { publicUrl: BENCH_URL, claimOnce, outbound, now });
  requireAccess(app, accessFor(clients, [], verify));
  answerOnce(app);
} else {
  const jwk = clients[0]?.jwt?.keys?.keys[0] as JWK;
  const key = await importJWK(jwk);
  app.addHook('onRequest', async (request) => {
    await compactVerify((request.headers.authorization ?? '').slice('Bearer '.length), key, {
      algorithms: [String(jwk.alg)],
    });
  });
}
app.get('/cds-services', async (_request, reply) =>
  reply.type('application/json; charset=utf-8').send('{"services":[]}'),
);
console.log(await app.listen({ host: '127.0.0.1', port: 0 }));
