/**
 * What each demo patient must get, worked out by hand from the published limits:
 * - US adults 1985 (Mathiowetz V, et al. Arch Phys Med Rehabil 1985;66:69-74, Table 2): mean less two SD, in lb
 * - US survey 2011-14 (CDC/NCHS, NHANES 2011-2014 grip test): mean less two SD, in kg
 * - EWGSOP2 2019 (Age Ageing 2019;48:16-31): men < 27 kg, women < 16 kg
 * - SDOC 2020 (J Am Geriatr Soc 2020;68:1410-1418): men < 35.5 kg, women < 20 kg
 * - FNIH 2014 (J Gerontol A 2014;69:547-566): men < 26 kg, women < 16 kg
 */
import type { RecordedVerdict } from '../service-for-tests.ts';

/** Short names of the sets in the tables below. */
const SETS: Readonly<Record<string, string>> = {
  'mathiowetz-1985-us-adults|1.1.0': 'US 1985',
  'nhanes-2011-2014-right-left-mean-of-3|1.1.0': 'survey',
  'ewgsop2-2019|1.1.0': 'EWGSOP2',
  'sdoc-2020|1.1.0': 'SDOC',
  'fnih-2014|1.1.0': 'FNIH',
};

/** One verdict as a line of the tables below. */
export function line({ set, hand, sex, compared, limit, outcome, provisional }: RecordedVerdict): string {
  const what = `${SETS[set]} ${hand ?? 'either'} ${sex}: ${compared.value} ${limit.operator} ${limit.value} ${limit.unit}`;
  return `${what} ${outcome}${provisional.length > 0 ? ' provisional' : ''}`;
}

/** Every verdict of every session, oldest first: figure compared, limit, outcome. */
export const EXPECTED: Readonly<Record<string, readonly string[]>> = {
  // 62, 64, 61 and 58, 57, 60 lb; highest 64 lb = 29.030 kg. 75.3 - 2 x 21.5; 64.8 - 2 x 18.1 lb.
  // 36.61 - 2 x 7.30; 35.41 - 2 x 6.88 kg.
  'demo-octave': [
    'US 1985 right male: 62.333 <= 32.3 lb not-reduced',
    'US 1985 left male: 58.333 <= 28.6 lb not-reduced',
    'survey right male: 28.274 <= 22.01 kg not-reduced',
    'survey left male: 26.460 <= 21.65 kg not-reduced',
    'EWGSOP2 either male: 29.030 < 27 kg not-reduced',
    'SDOC either male: 29.030 < 35.5 kg reduced',
    'FNIH either male: 29.030 < 26 kg not-reduced',
  ],
  // 124.2 / 3 = 41.4 lb, exactly 70.4 - 2 x 14.5. 61.0 - 2 x 13.1 lb; 29.14 - 2 x 5.29; 27.11 - 2 x 5.09 kg.
  'demo-linnea': [
    'US 1985 right female: 41.400 <= 41.4 lb reduced',
    'US 1985 left female: 39.000 <= 34.8 lb not-reduced',
    'survey right female: 18.779 <= 18.56 kg not-reduced',
    'survey left female: 17.690 <= 16.93 kg not-reduced',
  ],
  // 14 kg = 30.865 lb. 42.6 - 2 x 11.0 lb; 18.05 - 2 x 4.57 kg. One hand: the highest is provisional.
  'demo-perpetua': [
    'US 1985 right female: 30.865 <= 20.6 lb not-reduced',
    'survey right female: 14.000 <= 8.91 kg not-reduced',
    'EWGSOP2 either female: 14.500 < 16 kg reduced provisional',
    'SDOC either female: 14.500 < 20 kg reduced provisional',
    'FNIH either female: 14.500 < 16 kg reduced provisional',
  ],
  // 113 / 3 kg = 83.041 lb, 38 kg = 83.776 lb. 83.2 - 2 x 23.4 lb;
  // 40.61 - 2 x 7.56 kg. The right hand is its own norm; two sittings.
  'demo-casimir': [
    'US 1985 left male: 83.041 <= 36.4 lb not-reduced',
    'survey left male: 37.667 <= 25.49 kg not-reduced',
    'US 1985 left male: 83.776 <= 36.4 lb not-reduced',
    'survey left male: 38.000 <= 25.49 kg not-reduced',
  ],
  // Sex not recorded: no verdict; the columns are below.
  'demo-river': [],
  // 15 years: only the survey covers the age. 27.10 - 2 x 4.42; 24.81 - 2 x 4.55 kg.
  'demo-juniper': [
    'survey right female: 26.500 <= 18.26 kg not-reduced',
    'survey left female: 24.500 <= 15.71 kg not-reduced',
  ],
  // 84 and 79 kg at 61: stopped, see below.
  'demo-barnaby': [],
  // 49.6 - 2 x 9.7; 41.0 - 2 x 8.2 lb; 24.50 - 2 x 4.70; 23.17 - 2 x 4.42 kg. Four sittings.
  'demo-augusta': [
    ...[
      'US 1985 right female: 29.028 <= 30.2 lb reduced',
      'US 1985 left female: 26.823 <= 24.6 lb not-reduced',
      'survey right female: 13.167 <= 15.1 kg reduced',
      'survey left female: 12.167 <= 14.33 kg reduced',
      'EWGSOP2 either female: 13.500 < 16 kg reduced',
      'SDOC either female: 13.500 < 20 kg reduced',
      'FNIH either female: 13.500 < 16 kg reduced',
    ],
    ...[
      'US 1985 right female: 32.334 <= 30.2 lb not-reduced',
      'US 1985 left female: 30.130 <= 24.6 lb not-reduced',
      'survey right female: 14.667 <= 15.1 kg reduced',
      'survey left female: 13.667 <= 14.33 kg reduced',
      'EWGSOP2 either female: 15.000 < 16 kg reduced',
      'SDOC either female: 15.000 < 20 kg reduced',
      'FNIH either female: 15.000 < 16 kg reduced',
    ],
    ...[
      'US 1985 right female: 37.111 <= 30.2 lb not-reduced',
      'US 1985 left female: 34.539 <= 24.6 lb not-reduced',
      'survey right female: 16.833 <= 15.1 kg not-reduced',
      'survey left female: 15.667 <= 14.33 kg not-reduced',
      'EWGSOP2 either female: 17.000 < 16 kg not-reduced',
      'SDOC either female: 17.000 < 20 kg reduced',
      'FNIH either female: 17.000 < 16 kg not-reduced',
    ],
    ...[
      'US 1985 right female: 41.153 <= 30.2 lb not-reduced',
      'US 1985 left female: 37.846 <= 24.6 lb not-reduced',
      'survey right female: 18.667 <= 15.1 kg not-reduced',
      'survey left female: 17.167 <= 14.33 kg not-reduced',
      'EWGSOP2 either female: 19.000 < 16 kg not-reduced',
      'SDOC either female: 19.000 < 20 kg reduced',
      'FNIH either female: 19.000 < 16 kg not-reduced',
    ],
  ],
};

/** 24.5 and 22.5 kg at 45: women 62.2 - 2 x 15.1 and 56.0 - 2 x 12.7 lb, men 109.9 - 2 x 23.0 and 100.8 - 2 x 22.8. */
export const RIVER_COLUMNS = [
  'US 1985 right female: 54.013 <= 32 lb not-reduced',
  'US 1985 right male: 54.013 <= 63.9 lb reduced',
  'US 1985 left female: 49.604 <= 30.6 lb not-reduced',
  'US 1985 left male: 49.604 <= 55.2 lb reduced',
  'survey right female: 24.500 <= 17.73 kg not-reduced',
  'survey right male: 24.500 <= 30.01 kg reduced',
  'survey left female: 22.500 <= 17.69 kg not-reduced',
  'survey left male: 22.500 <= 28.84 kg reduced',
];
