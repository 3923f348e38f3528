/**
 * The baseline of the benchmark: a bare Fastify route that parses the same body and sends a fixed answer of
 * the given size. Prints its port.
 * Run by tools/bench.ts: bare-route.ts BYTES
 */
import Fastify from 'fastify';

const app = Fastify({ bodyLimit: 256 * 1024 });
const answer = JSON.stringify({ filler: 'x'.repeat(Math.max(0, Number(process.argv[2]) - 13)) });
app.post('/cds-services/grip-interpretation', async (_request, reply) =>
  reply.type('application/json; charset=utf-8').send(answer),
);
console.log(await app.listen({ host: '127.0.0.1', port: 0 }));
