/** What is put into a page stays text, whatever it is. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { html, list, NOTHING, part, table } from '../../src/review/html.ts';

describe('html', () => {
  it('escapes what is put in, and nothing of the template', () => {
    expect(html`<p class="a">${`<b a='1'>&"`}</p>`.text).toBe(
      '<p class="a">&lt;b a=&#39;1&#39;&gt;&amp;&quot;</p>',
    );
  });

  it('takes what is html already as it is', () => {
    expect(html`<p>${html`<b>${'<'}</b>`}${[html`<i>1</i>`, html`<i>2</i>`]}${3}</p>`.text).toBe(
      '<p><b>&lt;</b><i>1</i><i>2</i>3</p>',
    );
  });

  it('never lets a text open an element, end an attribute or begin an entity', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme' }), (text) => {
        const [, inside = ''] = /^<p title="([\s\S]*)">$/.exec(html`<p title="${text}">`.text) ?? [];
        expect(inside).not.toMatch(/[<>"']/);
        expect(inside.replaceAll(/&(amp|lt|gt|quot|#39);/g, '')).not.toContain('&');
      }),
    );
  });
});

describe('a list, a part and a table', () => {
  it('of nothing is nothing', () => {
    expect([list([]), table('Caption', ['A'], []), part('Title', NOTHING)].map(({ text }) => text)).toEqual([
      '',
      '',
      '',
    ]);
  });

  it('has a caption, column headers and row headers, and can be scrolled by keyboard', () => {
    const { text } = table('Figures', ['Hand', 'Reading'], [['right', '<31']]);
    expect(text).toContain('<div class="wide" role="region" aria-label="Figures" tabindex="0">');
    expect(text).toContain('<caption>Figures</caption>');
    expect(text).toContain('<th scope="col">Hand</th><th scope="col">Reading</th>');
    expect(text).toContain('<tr><th scope="row">right</th><td>&lt;31</td></tr>');
  });
});
