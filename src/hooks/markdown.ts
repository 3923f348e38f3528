/** Plain text in GitHub-flavoured Markdown: nothing in it is taken as markup. */

/** Characters that are markup wherever they stand. */
const MARKUP = /[\\`*_{}[\]<>#|~!&@]/g;
/**
 * What renderers make a link of without being asked: an address, `//host`, and a name with dots (`www.` by GitHub's
 * rules, any known domain by others). A dot between digits is a decimal point and stays.
 */
const LINK = /:(?=\/\/)|\/(?=\/)|(?<=[\p{L}\p{N}_-])\.(?=[\p{L}])/gu;
/** What begins a list, a rule or an underlined heading where a line begins. */
const BLOCK_START = /^(\d{0,9})([-+=.)])/;

/** Escapes what Markdown or HTML would take as markup or as a link; white space becomes single spaces. */
export function markdown(text: string): string {
  return text
    .replace(/\s+/g, ' ')
    .replace(MARKUP, '\\$&')
    .replace(LINK, '\\$&')
    .replace(/^ /, '')
    .replace(BLOCK_START, '$1\\$2');
}
