/** How each line of the chart is told from the others without colour: a dash pattern and a marker of its own. */

export interface Style {
  readonly dash: string;
  readonly marker: Marker;
  readonly filled: boolean;
}

type Marker = 'circle' | 'square' | 'up' | 'down' | 'diamond' | 'plus' | 'cross' | 'star' | 'bar' | 'none';

const SHAPES: readonly Marker[] = ['circle', 'square', 'up', 'diamond', 'down'];
const STROKES: readonly Marker[] = ['plus', 'cross', 'star', 'bar'];
/** Filled shapes, then hollow ones, then strokes: one for each table. */
const MARKERS = [
  ...SHAPES.map((marker) => ({ marker, filled: true })),
  ...[...SHAPES, ...STROKES].map((marker) => ({ marker, filled: false })),
];

/** Dash patterns for tables, then for cut-points; empty is a solid line. */
const TABLE_DASHES = [
  '',
  '10 3',
  '6 2 1 2',
  '3 2',
  '12 3 2 3',
  '8 2 2 2 2 2',
  '1 2',
  '14 4',
  '5 4',
  '9 3 3 3',
  '2 4',
  '4 1 1 1',
  '7 5',
  '3 1',
];
const CUT_POINT_DASHES = ['', '12 4', '8 3 2 3', '5 3', '2 2', '14 3 3 3', '1 3', '6 6'];

/** @param place of the set among those of its kind in the panel */
export function styleOf(kind: 'table' | 'cut-points', place: number): Style {
  const dash = (kind === 'table' ? TABLE_DASHES : CUT_POINT_DASHES)[place];
  const marker = kind === 'table' ? MARKERS[place] : { marker: 'none' as const, filled: false };
  if (dash === undefined || !marker) throw new Error(`no pattern left for a ${kind}: add one`);
  return { dash, ...marker };
}

/** One marker around a point, four pixels high or wide. */
export function markerAt({ marker, filled }: Style, x: number, y: number, ink: string): string {
  const at = (dx: number, dy: number) => `${round(x + dx)} ${round(y + dy)}`;
  const look = `stroke="${ink}" stroke-width="1" fill="${filled ? ink : 'white'}"`;
  const polygon = (...points: string[]) => `<path d="M${points.join('L')}Z" ${look}/>`;
  const strokes = (...lines: string[]) =>
    `<path d="${lines.join('')}" stroke="${ink}" stroke-width="1.2" fill="none"/>`;
  const plus = [`M${at(-3, 0)}L${at(3, 0)}`, `M${at(0, -3)}L${at(0, 3)}`];
  const cross = [`M${at(-2.5, -2.5)}L${at(2.5, 2.5)}`, `M${at(-2.5, 2.5)}L${at(2.5, -2.5)}`];
  switch (marker) {
    case 'circle':
      return `<circle cx="${round(x)}" cy="${round(y)}" r="2.4" ${look}/>`;
    case 'square':
      return polygon(at(-2.2, -2.2), at(2.2, -2.2), at(2.2, 2.2), at(-2.2, 2.2));
    case 'up':
      return polygon(at(0, -3), at(2.7, 2), at(-2.7, 2));
    case 'down':
      return polygon(at(0, 3), at(2.7, -2), at(-2.7, -2));
    case 'diamond':
      return polygon(at(0, -3), at(3, 0), at(0, 3), at(-3, 0));
    case 'plus':
      return strokes(...plus);
    case 'cross':
      return strokes(...cross);
    case 'star':
      return strokes(...plus, ...cross);
    case 'bar':
      return strokes(`M${at(0, -3.5)}L${at(0, 3.5)}`);
    case 'none':
      return '';
  }
}

/** One place is enough for a pixel, and makes the output the same everywhere. */
export function round(value: number): string {
  return (Math.round(value * 10) / 10).toString();
}
