import { afterEach, describe, expect, it, vi } from 'vitest';
import { readClients } from '../src/clients.ts';
import { ConfigFault, readConfig, SETTINGS } from '../src/config.ts';

type SettingName = keyof typeof SETTINGS;

const DEFAULTS = {
  host: '127.0.0.1',
  port: 8080,
  auditFile: 'data/audit.sqlite',
  panelId: 'adult-inpatient-us',
  publicUrl: null,
  clientsFile: null,
  fhirServers: [],
  corsOrigins: [],
  chartedHook: null,
  logLevel: 'info',
};

/** Texts that must not be taken for a value, each with what it might pass for. */
const WRONG: Readonly<Record<SettingName, readonly string[]>> = {
  GRIP_CDS_HOST: [
    '',
    ' ',
    '0.0.0.0',
    '::',
    '::0',
    '*',
    '10.1.2.3',
    '192.168.0.7',
    '128.0.0.1',
    '127.0.0.1.example.org',
    'x127.0.0.1',
    '127.0.0',
    '127.0.0.1:8080',
    '127.0.0.1\n',
    ' 127.0.0.1',
    'localhost.example.org',
    'notlocalhost',
    'hospital.example.org',
    '::1%eth0',
    '::ffff:10.0.0.1',
  ],
  GRIP_CDS_PORT: [
    '',
    ' ',
    '-1',
    '+80',
    '80.5',
    '8e3',
    '0x50',
    'http',
    '65536',
    '99999',
    '100000',
    '80 ',
    '８０',
  ],
  GRIP_CDS_AUDIT_FILE: [''],
  GRIP_CDS_PANEL: ['', 'Adult', 'a b', '../panels', 'adult_inpatient', 'adult-inpatient-us@1.0.0'],
  // Whether there is such a folder is seen when it is opened.
  GRIP_CDS_SITE_NORMS: [],
  GRIP_CDS_PUBLIC_URL: [
    '',
    'grip.example.org',
    'ftp://grip.example.org',
    'https://grip.example.org/',
    'https://u@grip',
    'https://grip.example.org/?a',
  ],
  // Whether there is such a file is seen when it is opened.
  GRIP_CDS_CLIENTS: [''],
  GRIP_CDS_FHIR_SERVERS: [
    '',
    'http://fhir.example.org',
    'http://127.0.0.1.example.org',
    'fhir.example.org',
    'https://fhir.example.org/',
    'https://a.example,',
    'file:///etc',
  ],
  GRIP_CDS_CORS_ORIGINS: [
    '',
    '*',
    'https://*.example.org',
    'https://ehr.example.org/',
    'ehr.example.org',
    'null',
  ],
  GRIP_CDS_CHARTED_HOOK: ['', 'grip-charted', 'org.Example.grip', 'org..grip', 'patient-view', 'org.grip'],
  GRIP_CDS_LOCAL_CODES: [''],
  GRIP_CDS_LOG_LEVEL: ['', 'INFO', 'trace', 'verbose', '30', 'info '],
};
const wrong = Object.entries(WRONG).flatMap(([name, values]) =>
  values.map((value) => [name, value] as const),
);

afterEach(() => vi.unstubAllEnvs());

describe('the configuration', () => {
  it('has its defaults when nothing is set', () => {
    expect(readConfig({})).toEqual(DEFAULTS);
    expect(
      readConfig({ PATH: '/bin', HOME: '/', GRIP: 'x', grip_cds_port: '1', MY_GRIP_CDS_X: 'y' }),
    ).toEqual(DEFAULTS);
  });

  it('takes every setting', () => {
    const all = {
      GRIP_CDS_HOST: '::1',
      GRIP_CDS_PORT: '0',
      GRIP_CDS_AUDIT_FILE: 'elsewhere/log.sqlite',
      GRIP_CDS_PANEL: 'all-published',
      GRIP_CDS_SITE_NORMS: 'site/norms',
      GRIP_CDS_PUBLIC_URL: 'https://grip.example.org/cds',
      GRIP_CDS_CLIENTS: 'none',
      GRIP_CDS_FHIR_SERVERS: 'https://fhir.example.org/r4,http://127.0.0.1:9000',
      GRIP_CDS_CORS_ORIGINS: 'https://ehr.example.org,http://localhost:3000',
      GRIP_CDS_CHARTED_HOOK: 'org.example.grip-charted',
      GRIP_CDS_LOCAL_CODES: 'site/codes.json',
      GRIP_CDS_LOG_LEVEL: 'silent',
    } satisfies Record<SettingName, string>;
    expect(readConfig(all)).toEqual({
      host: '::1',
      port: 0,
      auditFile: 'elsewhere/log.sqlite',
      panelId: 'all-published',
      siteNorms: 'site/norms',
      publicUrl: 'https://grip.example.org/cds',
      clientsFile: null,
      fhirServers: ['https://fhir.example.org/r4', 'http://127.0.0.1:9000'],
      corsOrigins: ['https://ehr.example.org', 'http://localhost:3000'],
      chartedHook: 'org.example.grip-charted',
      localCodes: 'site/codes.json',
      logLevel: 'silent',
    });
    // Where clients are named, each has servers of its own.
    const named = { ...all, GRIP_CDS_CLIENTS: 'site/clients.json', GRIP_CDS_FHIR_SERVERS: 'none' };
    expect(readConfig(named)).toMatchObject({ clientsFile: 'site/clients.json', fhirServers: [] });
  });

  it.each(['127.0.0.1', '127.1.2.3', '::1', 'localhost'])('listens on the loopback address %s', (host) => {
    expect(readConfig({ GRIP_CDS_HOST: host }).host).toBe(host);
  });

  it.each(['0', '1', '443', '65535'])('takes port %s', (port) => {
    expect(readConfig({ GRIP_CDS_PORT: port }).port).toBe(Number(port));
  });

  it.each(['', 'none'])('has no site folder for %j, which is the default', (folder) => {
    expect(readConfig({ GRIP_CDS_SITE_NORMS: folder }).siteNorms).toBeUndefined();
    expect(readConfig({}).siteNorms).toBeUndefined();
  });

  it('takes the site folder as it is written', () => {
    for (const folder of ['/srv/norms', './none', 'None', ' '])
      expect(readConfig({ GRIP_CDS_SITE_NORMS: folder }).siteNorms).toBe(folder);
  });

  it('reads the shipped map of local codes unless it is told another, or none', () => {
    expect(readConfig({}).localCodes).toBeUndefined();
    for (const file of ['none', './shipped', '/srv/codes.json'])
      expect(readConfig({ GRIP_CDS_LOCAL_CODES: file }).localCodes).toBe(file);
  });

  it('is frozen', () => {
    const config = readConfig({});
    expect(Object.isFrozen(config)).toBe(true);
    expect(() => Object.assign(config, { host: '0.0.0.0' })).toThrow(TypeError);
  });

  it('reads the environment of the process when it is given none', () => {
    vi.stubEnv('GRIP_CDS_PORT', '9191');
    expect(readConfig().port).toBe(9191);
    vi.stubEnv('GRIP_CDS_PROT', '9191');
    expect(() => readConfig()).toThrow('GRIP_CDS_PROT');
  });
});

describe('a start is stopped', () => {
  it.each(wrong)('by %s=%j, and the message begins with the name of the variable', (name, value) => {
    const fault = faultOf({ [name]: value });
    expect(fault).toBeInstanceOf(ConfigFault);
    expect(fault.message).toMatch(new RegExp(`^${name} must be \\S`));
  });

  it('T13: by FHIR servers of open access where clients are named', () => {
    const both = { GRIP_CDS_CLIENTS: 'site/clients.json', GRIP_CDS_FHIR_SERVERS: 'https://fhir.example.org' };
    expect(faultOf(both).message).toMatch(/^GRIP_CDS_FHIR_SERVERS must be none where clients are named/);
  });

  it.each(Object.keys(SETTINGS))('by %s without a value', (name) => {
    expect(faultOf({ [name]: undefined }).message).toContain(name);
  });

  it.each(['GRIP_CDS_HOTS', 'GRIP_CDS_', 'GRIP_CDS_port', 'GRIP_CDS_HOST2', 'GRIP_CDS_toString'])(
    'by the unknown variable %s, which is named, with the settings that there are',
    (name) => {
      const settings =
        'GRIP_CDS_HOST, GRIP_CDS_PORT, GRIP_CDS_AUDIT_FILE, GRIP_CDS_PANEL, GRIP_CDS_SITE_NORMS, GRIP_CDS_PUBLIC_URL, GRIP_CDS_CLIENTS, GRIP_CDS_FHIR_SERVERS, GRIP_CDS_CORS_ORIGINS, GRIP_CDS_CHARTED_HOOK, GRIP_CDS_LOCAL_CODES, GRIP_CDS_LOG_LEVEL';
      expect(faultOf({ [name]: 'x' })).toEqual(
        new ConfigFault(`${name} is not a setting of this service; settings: ${settings}`),
      );
      expect(settings.split(', ')).toEqual(Object.keys(SETTINGS));
    },
  );

  const HTTPS = 'https://grip.example.org';

  it.each([
    {},
    { GRIP_CDS_CLIENTS: 'clients.json' },
    { GRIP_CDS_PUBLIC_URL: HTTPS },
    { GRIP_CDS_CLIENTS: 'clients.json', GRIP_CDS_PUBLIC_URL: 'http://127.0.0.1:8080' },
  ])('T1: by an address that others reach with %j, and what is missing is said', (more) => {
    for (const host of ['0.0.0.0', '::', '10.1.2.3', '::ffff:127.0.0.1']) {
      expect(faultOf({ GRIP_CDS_HOST: host, ...more }).message).toBe(
        'GRIP_CDS_HOST must be a loopback address (127.0.0.1, ::1, localhost) unless GRIP_CDS_CLIENTS names the clients and ' +
          'GRIP_CDS_PUBLIC_URL is https: the service has no TLS of its own, a proxy in front of it has',
      );
    }
    for (const host of ['127.0.0.1', '::1', 'localhost'])
      expect(readConfig({ GRIP_CDS_HOST: host, ...more }).host).toBe(host);
  });

  it('T1: not by such an address where clients are named and a proxy in front has TLS', () => {
    const trusted = { GRIP_CDS_CLIENTS: 'clients.json', GRIP_CDS_PUBLIC_URL: HTTPS };
    for (const host of ['0.0.0.0', '::', '10.1.2.3'])
      expect(readConfig({ GRIP_CDS_HOST: host, ...trusted }).host).toBe(host);
    for (const host of ['*', '10.1.2', 'hospital.example.org', '::1%eth0', '10.1.2.3:80'])
      expect(faultOf({ GRIP_CDS_HOST: host, ...trusted }).message).toMatch(/^GRIP_CDS_HOST must be /);
  });

  it('T1: by a public address without TLS, where clients send credentials to it', () => {
    const clients = { GRIP_CDS_CLIENTS: 'clients.json' };
    for (const url of [
      'http://grip.example.org',
      'http://127.0.0.1.example.org',
      'http://localhost.example.org',
    ])
      expect(faultOf({ ...clients, GRIP_CDS_PUBLIC_URL: url }).message).toBe(
        'GRIP_CDS_PUBLIC_URL must be https (http on this machine only) where clients are named: they send credentials',
      );
    for (const url of ['http://127.0.0.1:8080', 'http://[::1]:8080', 'http://localhost/cds', HTTPS])
      expect(readConfig({ ...clients, GRIP_CDS_PUBLIC_URL: url }).publicUrl).toBe(url);
  });
});

const KEY = {
  kty: 'EC',
  crv: 'P-384',
  kid: 'k',
  x: 'x',
  y: 'y',
};
const JWT = { issuer: 'https://ehr.example.org/', keySet: 'https://ehr.example.org/keys' };
const clientsWith = (jwt: object, more: object = {}) =>
  JSON.stringify({ clients: [{ name: 'ehr', jwt: { ...JWT, ...jwt }, ...more }] });

describe('the file of the clients', () => {
  it.each([
    ['the address of a key set', {}],
    ['a key set on this machine', { keySet: 'http://127.0.0.1:9000/keys' }],
    ['keys out of band', { keySet: undefined, keys: { keys: [KEY] } }],
    ['both', { keys: { keys: [KEY] } }],
    ['tenants', { tenants: ['north', 'south'] }],
    ['a longer life', { maxLifeSeconds: 7_200 }],
  ])('may give a client %s', (_what, jwt) => {
    expect(readClients(clientsWith(jwt))).toMatchObject([
      { name: 'ehr', jwt: JSON.parse(JSON.stringify(jwt)) },
    ]);
  });

  it.each([
    ['neither keys nor their address', { keySet: undefined }],
    ['T1: a key set that is fetched without TLS', { keySet: 'http://ehr.example.org/keys' }],
    ['a key set in a file', { keySet: 'file:///etc/keys' }],
    ['no keys', { keys: { keys: [] } }],
    ['T5: an issuer that is no URI', { issuer: 'ehr' }],
    ['no tenants', { tenants: [] }],
    ['a life of nothing', { maxLifeSeconds: 0 }],
    ['a life of a hundred years', { maxLifeSeconds: 3_153_600_000 }],
    ['a life that is a text', { maxLifeSeconds: '3600' }],
    ['a member that is not known', { audience: 'x' }],
  ])('%s: is refused, and the place is named', (_what, jwt) => {
    expect(() => readClients(clientsWith(jwt))).toThrow(/^GRIP_CDS_CLIENTS: clients\.0\.jwt/);
  });

  it('T13: FHIR servers without TLS are refused, but on this machine', () => {
    const read = (fhirServers: readonly string[]) => readClients(clientsWith({}, { fhirServers }));
    expect(() => read(['http://fhir.example.org/r4'])).toThrow(
      /^GRIP_CDS_CLIENTS: clients\.0\.fhirServers\.0/,
    );
    expect(read(['https://fhir.example.org/r4', 'http://[::1]:9000'])).toHaveLength(1);
  });
});

describe('the list of settings', () => {
  it('gives the defaults that are used, each with its meaning', () => {
    const fallbacks = Object.fromEntries(
      Object.entries(SETTINGS).map(([name, { fallback }]) => [name, fallback]),
    );
    expect(readConfig(fallbacks)).toEqual(DEFAULTS);
    for (const { meaning } of Object.values(SETTINGS)) expect(meaning).toMatch(/\w{3}.*\.$/);
  });
});

function faultOf(environment: Record<string, string | undefined>): Error {
  try {
    readConfig(environment);
  } catch (fault) {
    return fault as Error;
  }
  throw new Error(`accepted: ${JSON.stringify(environment)}`);
}
