/** HTML as text in which everything from outside is escaped; only what this module made counts as markup. */

export class Html {
  constructor(readonly text: string) {}
}

type Part = Html | string | number | readonly Html[];

/** Tag of a template: what is put in is escaped, unless it is Html itself. */
export function html(strings: TemplateStringsArray, ...parts: readonly Part[]): Html {
  return new Html(
    strings.map((text, index) => text + (index < parts.length ? written(parts[index]) : '')).join(''),
  );
}

/** Nothing at all. */
export const NOTHING = new Html('');

function written(part: Part | undefined): string {
  if (part instanceof Html) return part.text;
  if (Array.isArray(part)) return part.map(({ text }: Html) => text).join('');
  return escaped(String(part ?? ''));
}

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

function escaped(text: string): string {
  return text.replace(/[&<>"']/g, (character) => ENTITIES[character] ?? '');
}

/** One item for each; nothing for none. */
export function list(items: readonly string[]): Html {
  return items.length > 0 ? html`<ul>${items.map((item) => html`<li>${item}</li>`)}</ul>` : NOTHING;
}

/** A heading of the third level and what follows; nothing where nothing follows. */
export function part(title: string, content: Html): Html {
  return content.text === '' ? NOTHING : html`<h3>${title}</h3>${content}`;
}

/**
 * A table with a caption and the first cell of each row as its header. It can be scrolled by keyboard where it is wider
 * than the window.
 */
export function table(
  caption: string,
  head: readonly string[],
  rows: readonly (readonly (string | Html)[])[],
): Html {
  if (rows.length === 0) return NOTHING;
  return html`<div class="wide" role="region" aria-label="${caption}" tabindex="0"><table>
<caption>${caption}</caption>
<thead><tr>${head.map((cell) => html`<th scope="col">${cell}</th>`)}</tr></thead>
<tbody>${rows.map(
    ([
      first = '',
      ...cells
    ]) => html`<tr><th scope="row">${first}</th>${cells.map((cell) => html`<td>${cell}</td>`)}</tr>
`,
  )}</tbody>
</table></div>`;
}
