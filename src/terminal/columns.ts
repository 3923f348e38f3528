/** Rows under their heads in columns of equal width, for a terminal. */

/** @returns one line for the head and one for each row; the last column is not padded, nor any line's end */
export function terminalTable(
  head: readonly string[],
  rows: readonly (readonly string[])[],
): readonly string[] {
  const widths = head.map((title, column) =>
    Math.max(title.length, ...rows.map((row) => row[column]?.length ?? 0)),
  );
  return [head, ...rows].map((cells) =>
    cells
      .map((cell, column) => cell.padEnd(widths[column] ?? 0))
      .join('  ')
      .trimEnd(),
  );
}

/** A column: its title, and the cell of a row; null for a figure that is not known, empty for nothing to say. */
export type Column<R> = readonly [title: string, cell: (row: R) => string | null];

/** Without the columns in which no row has anything; a figure that is not known is shown as `-`. */
export function tableOf<R>(columns: readonly Column<R>[], rows: readonly R[]): readonly string[] {
  const shown = columns.filter(([, cell]) => rows.some((row) => cell(row)));
  return terminalTable(
    shown.map(([title]) => title),
    rows.map((row) => shown.map(([, cell]) => cell(row) ?? '-')),
  );
}
