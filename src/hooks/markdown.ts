/** Plain text in GitHub-flavoured Markdown: nothing in it is taken as markup. */

/** Escapes what Markdown or HTML would take as markup or as a link; line breaks become spaces. */
export function markdown(text: string): string {
  return text.replace(/[\r\n]+/g, ' ').replace(/[\\`*_{}[\]<>#|~!&@]|:(?=\/\/)|(?<=\bwww)\./gi, '\\$&');
}
