/**
 * Invented people of the invented Alder Reach Hospital. No real person is described; every id begins with
 * `demo-`. FHIR R4 as a hospital record would hold it.
 */
import type { Observation, Patient } from 'fhir/r4.js';
import { handedness, measure, notPerformed, person, type Sitting, trials } from './charting.ts';
import { chartedLine, type DemoRecords, diagnosis, operation, recordsOf } from './records.ts';

export interface DemoPatient {
  /** What is special about this person, for the reader of the demo. */
  readonly story: string;
  readonly patient: Patient;
  /** Trials of grip strength. */
  readonly observations: readonly Observation[];
  /** Other measures of the record: height, weight, gait speed, handedness. */
  readonly measures: readonly Observation[];
  /** What speaks against testing an arm; absent: the demo does not ask for it. */
  readonly records?: DemoRecords | undefined;
}

function measured(
  story: string,
  patient: Patient,
  sittings: readonly Sitting[],
  more: {
    readonly trials?: readonly Observation[];
    readonly measures?: readonly Observation[];
    readonly records?: DemoRecords;
  } = {},
): DemoPatient {
  return {
    story,
    patient,
    observations: [...sittings.flatMap((sitting) => trials(patient, sitting)), ...(more.trials ?? [])],
    measures: more.measures ?? [],
    records: more.records,
  };
}

const OCTAVE = person('octave', 'Marchbanks', 'Octave', '1954-03-09', 'male');
const LINNEA = person('linnea', 'Thorsby', 'Linnea', '2002-05-17', 'female');
const PERPETUA = person('perpetua', 'Quillfeather', 'Perpetua', '1945-01-30', 'female');
const CASIMIR = person('casimir', 'Oakhanger', 'Casimir', '1968-08-02', 'male');
const RIVER = person('river', 'Saltmarsh', 'River', '1981-06-11');
const JUNIPER = person('juniper', 'Aldwick', 'Juniper', '2011-02-21', 'female');
const BARNABY = person('barnaby', 'Fenwright', 'Barnaby', '1965-10-05', 'male');
const AUGUSTA = person('augusta', 'Pellinore', 'Augusta', '1959-07-14', 'female');

export const DEMO_PATIENTS: readonly DemoPatient[] = [
  measured(
    '72-year-old man two weeks after bowel surgery, losing weight; the groups disagree',
    OCTAVE,
    [
      {
        ...{ at: '2026-11-16T14:05:00Z', unit: '[lb_av]', right: [62, 64, 61], left: [58, 57, 60] },
        protocol: { position: 'sitting', arm: 'elbow-90-unsupported', handle: 2, calibrated: '2026-06-02' },
      },
    ],
    {
      measures: [
        handedness(OCTAVE, 'right', '2026-11-10'),
        measure(OCTAVE, 'height', 178, 'cm', '2026-11-03'),
        measure(OCTAVE, 'weight', 69.4, 'kg', '2026-11-16'),
        measure(OCTAVE, 'gait-speed', 0.72, 'm/s', '2026-11-13'),
      ],
    },
  ),
  measured('24-year-old woman with anorexia, measured in pounds, exactly at a limit', LINNEA, [
    { at: '2026-11-17T15:20:00Z', unit: '[lbf_av]', right: [41.2, 41.8, 41.2], left: [38, 40, 39] },
  ]),
  measured(
    '81-year-old woman on haemodialysis with a fistula in the left arm: only the right hand was tested',
    PERPETUA,
    [{ at: '2026-11-18T13:10:00Z', unit: 'kg', right: [14, 14.5, 13.5], left: [] }],
    {
      trials: [notPerformed(PERPETUA, 'left', '2026-11-18T13:19:00Z')],
      records: recordsOf({
        conditions: [diagnosis(PERPETUA, 'Z99.2', '2023-05')],
        procedures: [
          operation(PERPETUA, '48765000', '2023-03-14', 'left'),
          operation(PERPETUA, '302497006', '2026-11-17T08:00:00Z'),
        ],
        lines: [chartedLine(PERPETUA, 'DIAL-ACCESS-L', '2026-11-17T07:45:00Z')],
      }),
    },
  ),
  measured(
    '58-year-old man with right-sided weakness after a stroke: norms do not fit the right hand, followed against itself',
    CASIMIR,
    [
      {
        at: '2026-10-28T16:35:00Z',
        unit: 'kg',
        right: [8, 9, 8],
        left: [38, 38, 37],
        ownBaseline: ['right'],
      },
      {
        at: '2026-11-18T16:40:00Z',
        unit: 'kg',
        right: [12, 18, 9],
        left: [38, 39, 37],
        ownBaseline: ['right'],
      },
    ],
    {
      records: recordsOf({
        conditions: [diagnosis(CASIMIR, 'G81.91', '2026-09-30'), diagnosis(CASIMIR, 'I63.9', '2026-09-30')],
      }),
    },
  ),
  measured('45-year-old whose sex is not recorded', RIVER, [
    { at: '2026-11-19T14:00:00Z', unit: 'kg', right: [24, 25, 24.5], left: [22, 23, 22.5] },
  ]),
  measured('15-year-old girl: too young for the adult table', JUNIPER, [
    { at: '2026-11-19T15:30:00Z', unit: 'kg', right: [26, 27, 26.5], left: [24, 24.5, 25] },
  ]),
  measured('61-year-old man whose pounds were charted as kilograms', BARNABY, [
    { at: '2026-11-20T14:15:00Z', unit: 'kg', right: [84, 86, 82], left: [79, 80, 78] },
  ]),
  measured('67-year-old woman followed for twelve weeks of oral supplements', AUGUSTA, [
    { at: '2026-08-27T14:00:00Z', unit: 'kg', right: [13, 13.5, 13], left: [12, 12.5, 12] },
    { at: '2026-09-24T14:00:00Z', unit: 'kg', right: [14.5, 15, 14.5], left: [13.5, 14, 13.5] },
    { at: '2026-10-22T14:00:00Z', unit: 'kg', right: [16.5, 17, 17], left: [15.5, 15.5, 16] },
    { at: '2026-11-19T14:00:00Z', unit: 'kg', right: [18.5, 19, 18.5], left: [17, 17.5, 17] },
  ]),
];
