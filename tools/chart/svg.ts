/** One chart of limits by age as SVG, 960 by 560, readable in print and without colour. */
import type { Sex } from '../../src/interpret/measurement.ts';
import { spread } from './labels.ts';
import { markerAt, round, type Style, styleOf } from './marks.ts';
import { LAST_AGE, type Point, type Series } from './series.ts';

const WIDTH = 960;
const HEIGHT = 560;
const PLOT = { left: 56, right: 716, top: 34, bottom: 458 };
const LABELS = { x: 742, gap: 15.5, size: 10.5 };
const CAPTION = { y: 512, step: 13, size: 10, characters: 160 };
const FIRST_AGE = 5;
/** Lines that end before this age are labelled above the left of the plot. */
const LABELLED_RIGHT_FROM = 60;
const INK = { table: '#1a1a1a', 'cut-points': '#8a1c1c', faint: '#d9d9d9', text: '#1a1a1a' } as const;

export interface Chart {
  readonly sex: Sex;
  readonly panel: { readonly id: string; readonly version: string };
  readonly series: readonly Series[];
  /** Short titles of the sets that are not drawn. */
  readonly leftOut: readonly string[];
}

const NAMES: Readonly<Record<Sex, string>> = { female: 'women', male: 'men' };

interface Scale {
  x(age: number): number;
  y(kilograms: number): number;
  readonly most: number;
}

function scaleFor(series: readonly Series[]): Scale {
  const highest = Math.max(...series.flatMap(({ points }) => points.map(({ kilograms }) => kilograms)));
  const most = Math.ceil((highest + 1) / 5) * 5;
  const { left, right, top, bottom } = PLOT;
  return {
    x: (age) => left + ((age - FIRST_AGE) / (LAST_AGE - FIRST_AGE)) * (right - left),
    y: (kilograms) => bottom - (kilograms / most) * (bottom - top),
    most,
  };
}

export function drawChart(chart: Chart): string {
  const { sex, panel, series } = chart;
  const scale = scaleFor(series);
  const styled = styledSeries(series);
  const id = `limits-by-age-${NAMES[sex]}`;
  return `${[
    `<svg xmlns="http://www.w3.org/2000/svg" width="${WIDTH}" height="${HEIGHT}" viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-labelledby="${id}-title ${id}-desc" font-family="Helvetica, Arial, sans-serif" fill="${INK.text}">`,
    `<title id="${id}-title">Lower limits of grip strength by age, ${NAMES[sex]}</title>`,
    `<desc id="${id}-desc">${escaped(descriptionOf(chart))}</desc>`,
    `<rect width="${WIDTH}" height="${HEIGHT}" fill="white"/>`,
    `<text x="${PLOT.left}" y="20" font-size="14" font-weight="bold">Lower limits of grip strength by age, ${NAMES[sex]}</text>`,
    ...axes(scale),
    ...styled.flatMap((each) => line(each, scale)),
    ...labels(styled, scale),
    ...caption(panel, chart.leftOut),
    '</svg>',
  ].join('\n')}\n`;
}

interface Styled {
  readonly one: Series;
  readonly style: Style;
}

function styledSeries(series: readonly Series[]): readonly Styled[] {
  return (['table', 'cut-points'] as const).flatMap((kind) =>
    series.filter((one) => one.kind === kind).map((one) => ({ one, style: styleOf(kind, one.place) })),
  );
}

function axes({ x, y, most }: Scale): readonly string[] {
  const { left, right, bottom, top } = PLOT;
  const ages = Array.from({ length: 10 }, (_, index) => FIRST_AGE + 10 * index);
  const forces = Array.from({ length: most / 5 + 1 }, (_, index) => 5 * index);
  return [
    ...forces.flatMap((kilograms) => [
      `<path d="M${left} ${round(y(kilograms))}H${right}" stroke="${INK.faint}" stroke-width="${kilograms === 0 ? 0 : 0.6}"/>`,
      `<text x="${left - 8}" y="${round(y(kilograms) + 4)}" font-size="11" text-anchor="end">${kilograms}</text>`,
    ]),
    ...ages.flatMap((age) => [
      `<path d="M${round(x(age))} ${bottom}v5" stroke="${INK.text}"/>`,
      `<text x="${round(x(age))}" y="${bottom + 18}" font-size="11" text-anchor="middle">${age}</text>`,
    ]),
    `<path d="M${left} ${top}V${bottom}H${right}" fill="none" stroke="${INK.text}"/>`,
    `<text x="${(left + right) / 2}" y="${bottom + 35}" font-size="12" text-anchor="middle">Age (years)</text>`,
    `<text transform="translate(18 ${(top + bottom) / 2}) rotate(-90)" font-size="12" text-anchor="middle">Limit (kg)</text>`,
  ];
}

const widthOf = ({ unproven, kind }: Series) => (unproven ? 0.7 : kind === 'table' ? 1.3 : 1.6);
const inkOf = ({ kind }: Series) => INK[kind];

/** Cut-points of two age bands are two level lines, each drawn on its own. */
function pieces({ kind, points }: Series): readonly (readonly Point[])[] {
  if (kind === 'table') return [points];
  return points.flatMap((point, index) => (index % 2 === 0 ? [[point, points[index + 1] ?? point]] : []));
}

function line({ one, style }: Styled, { x, y }: Scale): readonly string[] {
  const path = pieces(one)
    .map(
      (piece) => `M${piece.map(({ age, kilograms }) => `${round(x(age))} ${round(y(kilograms))}`).join('L')}`,
    )
    .join('');
  const dash = style.dash ? ` stroke-dasharray="${style.dash}"` : '';
  return [
    `<path d="${path}" fill="none" stroke="${inkOf(one)}" stroke-width="${widthOf(one)}"${dash}/>`,
    ...one.points
      .filter(({ printed }) => printed)
      .map(({ age, kilograms }) => markerAt(style, x(age), y(kilograms), inkOf(one))),
  ];
}

function labels(styled: readonly Styled[], scale: Scale): readonly string[] {
  const endOf = ({ one }: Styled) => one.points.at(-1) ?? { age: 0, kilograms: 0 };
  const isRight = (each: Styled) => endOf(each).age >= LABELLED_RIGHT_FROM;
  const right = styled.filter(isRight);
  const young = styled.filter((each) => !isRight(each));
  const places = spread(
    right.map((each) => ({ y: scale.y(endOf(each).kilograms) })),
    { gap: LABELS.gap, top: PLOT.top + 4, bottom: PLOT.bottom - 4 },
  );
  return [
    ...right.flatMap((each, index) => {
      const end = endOf(each);
      return label(each, { x: scale.x(end.age), y: scale.y(end.kilograms) }, places[index] ?? 0);
    }),
    ...young.flatMap((each, index) => {
      const end = endOf(each);
      return youngLabel(each, { x: scale.x(end.age), y: scale.y(end.kilograms) }, index);
    }),
  ];
}

interface Spot {
  readonly x: number;
  readonly y: number;
}

/** The name, a sample of the line, and a thin leader from the end of the line to both. */
function label({ one, style }: Styled, end: Spot, y: number): readonly string[] {
  const bend = PLOT.right + 8;
  const start = end.x < PLOT.right - 1 ? end.x + 4 : end.x;
  const from = `M${round(start)} ${round(end.y)}H${bend}`;
  return [
    `<path d="${from}L${LABELS.x - 6} ${round(y)}" fill="none" stroke="#9a9a9a" stroke-width="0.5"/>`,
    ...sample({ one, style }, LABELS.x - 4, y),
    words(one, LABELS.x + 34, y + 3.5),
  ];
}

/** Above the left of the plot, where there are no lines. */
function youngLabel({ one, style }: Styled, end: Spot, index: number): readonly string[] {
  const [x, y] = [PLOT.left + 18, PLOT.top + 18 + index * LABELS.gap];
  const bend = PLOT.left + 6 + 5 * index;
  return [
    `<path d="M${x - 2} ${round(y)}H${bend}L${round(end.x)} ${round(end.y - 4)}" fill="none" stroke="#9a9a9a" stroke-width="0.5"/>`,
    ...sample({ one, style }, x, y),
    words(one, x + 38, y + 3.5),
  ];
}

function sample({ one, style }: Styled, x: number, y: number): readonly string[] {
  const dash = style.dash ? ` stroke-dasharray="${style.dash}"` : '';
  return [
    `<path d="M${x} ${round(y)}h34" stroke="${inkOf(one)}" stroke-width="${widthOf(one)}"${dash}/>`,
    markerAt(style, x + 17, y, inkOf(one)),
  ];
}

function words(one: Series, x: number, y: number): string {
  const italic = one.unproven ? ' font-style="italic"' : '';
  return `<text x="${round(x)}" y="${round(y)}" font-size="${LABELS.size}" fill="${inkOf(one)}"${italic}>${escaped(one.label)}</text>`;
}

function caption({ id, version }: Chart['panel'], leftOut: readonly string[]): readonly string[] {
  const text = [
    `Panel ${id} ${version}. Dark lines: tables of norms, joined between the middles of their age bands; an open band runs on to ${LAST_AGE}.`,
    'Red level lines: cut-points, over the ages at which the panel applies them; some lie on each other.',
    'Thin lines, names in italics: most of the figures rest on one copy.',
    'Right hand, or dominant hand, where a set has both.',
    'Sets sum up the trials in different ways and call different shares of people reduced.',
    `Left out, since they need height or weight: ${leftOut.join(', ')}.`,
  ].join(' ');
  return wrapped(text, CAPTION.characters).map(
    (line, index) =>
      `<text x="${PLOT.left}" y="${CAPTION.y + index * CAPTION.step}" font-size="${CAPTION.size}">${escaped(line)}</text>`,
  );
}

function wrapped(text: string, most: number): readonly string[] {
  const lines: string[] = [];
  for (const word of text.split(' ')) {
    const line = `${lines.at(-1) ?? ''} ${word}`.trimStart();
    if (lines.length > 0 && line.length <= most) lines[lines.length - 1] = line;
    else lines.push(word);
  }
  return lines;
}

/** For readers who do not see the picture: each line in words. */
function descriptionOf({ sex, series, leftOut }: Chart): string {
  const lines = series.map(({ label: name, points }) => {
    const [first, last] = [points[0], points.at(-1)];
    return `${name}: ${first?.kilograms.toFixed(1)} kg at ${first?.age} to ${last?.kilograms.toFixed(1)} kg at ${last?.age}`;
  });
  return `Limits for ${NAMES[sex]} in kg by age in years. ${lines.join('; ')}. Not drawn: ${leftOut.join(', ')}.`;
}

function escaped(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');
}
