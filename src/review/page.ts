/** The frame of a page: no script, nothing from elsewhere, one stylesheet inside it. */
import { Html, html } from './html.ts';

/** Black on white, one rule between rows, nothing that means something by its colour alone. */
export const STYLE = `
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 64rem; padding: 1.5rem 1.25rem 4rem; background: #fff; color: #1a1a1a;
  font: 1rem/1.5 system-ui, "Liberation Sans", Arial, sans-serif; }
h1 { font-size: 1.6rem; line-height: 1.25; margin: 0 0 .75rem; }
h2 { font-size: 1.25rem; margin: 2.5rem 0 .5rem; padding-top: .75rem; border-top: 2px solid #1a1a1a; }
h3 { font-size: 1rem; margin: 1.5rem 0 .25rem; }
p, ul { margin: .25rem 0 .75rem; max-width: 46rem; }
ul { padding-left: 1.25rem; }
.said { font-size: 1.1rem; }
.open, .stop { border: 1px solid #1a1a1a; border-left-width: .5rem; padding: .5rem .75rem; }
blockquote { margin: .25rem 0 .75rem; padding: .5rem .75rem; background: #f3f3ee; max-width: 46rem; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .15rem 1.25rem; margin: .75rem 0; }
dt { color: #4d4d4d; }
dd { margin: 0; overflow-wrap: anywhere; }
.wide { overflow-x: auto; margin: .25rem 0 .75rem; }
.wide:focus-visible, a:focus-visible { outline: 3px solid #14532d; outline-offset: 2px; }
table { border-collapse: collapse; width: 100%; font-size: .9rem; }
caption { text-align: left; color: #4d4d4d; padding: 0 0 .25rem; }
th, td { text-align: left; vertical-align: top; padding: .35rem .75rem .35rem 0; border-bottom: 1px solid #c9c9c2; }
thead th { border-bottom: 1px solid #1a1a1a; }
tbody th { font-weight: 600; }
td { font-variant-numeric: tabular-nums; }
code { font: .85em ui-monospace, "Liberation Mono", monospace; overflow-wrap: anywhere; }
footer { margin-top: 3rem; color: #4d4d4d; }
@media (max-width: 40rem) { dl { grid-template-columns: 1fr; } dd { margin-bottom: .4rem; } }
@media print { body { max-width: none; padding: 0; font-size: 10pt; } .wide { overflow: visible; }
  h2, h3 { break-after: avoid; } tr { break-inside: avoid; } }
`;

const STYLE_SHEET = new Html(STYLE);

/** @param title without the name of the software, which follows it */
export function renderPage(title: string, body: Html): string {
  return html`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex, nofollow">
<title>${title} - grip-strength-cds</title>
<style>${STYLE_SHEET}</style>
</head>
<body>
<main>
${body}
</main>
</body>
</html>
`.text;
}
