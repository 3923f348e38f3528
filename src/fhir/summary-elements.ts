/** Placeholder until generated. */
export const ELEMENTS: Readonly<
  Record<
    string,
    { readonly summary: readonly string[]; readonly mandatory: readonly string[]; readonly modifiers: readonly string[] }
  >
> = {};
