/**
 * Documents filed with an audit record: what an answer gave out and can be asked for again. The store knows nothing of
 * grip or FHIR: a document is JSON text with a type, an id, versions, and the terms it is found by.
 */

/** One way in which a document is found. */
export interface DocumentTerm {
  /** Of the search parameter, e.g. `code`. */
  readonly name: string;
  /** Namespace of `value`; absent where there is none. */
  readonly system?: string | undefined;
  readonly value?: string | undefined;
  /** A stretch of time: milliseconds since 1970-01-01T00:00Z, from `low` to before `high`. */
  readonly low?: number | undefined;
  readonly high?: number | undefined;
}

/** A document as it is filed. */
export interface DocumentDraft {
  readonly type: string;
  readonly id: string;
  readonly version: number;
  /** RFC 3339, UTC. */
  readonly updated: string;
  /** Milliseconds since 1970-01-01T00:00Z: what a search sorts by. */
  readonly moment: number;
  /** JSON text. */
  readonly content: string;
  readonly terms: readonly DocumentTerm[];
  /** Client that it was filed for; absent: everybody's. */
  readonly owner?: string | undefined;
  /** JSON data that the filer wants to know when it meets the document again. */
  readonly facts?: unknown;
}

/** The next version of a filed document, `version`; not written where another came first. */
export type DocumentRevision = DocumentDraft;

export interface DocumentName {
  readonly type: string;
  readonly id: string;
}

export interface StoredDocument {
  readonly type: string;
  readonly id: string;
  readonly version: number;
  readonly updated: string;
  /** Null: everybody's. */
  readonly owner: string | null;
  /** Id of the audit record that this version was filed with; null for one that no record is about. */
  readonly record: string | null;
  /** JSON text; null when it was removed. */
  readonly content: string | null;
  /** JSON text of the facts of this version. */
  readonly facts: string | null;
}

/** One term that a condition accepts. Members that are absent do not matter; `system: null` is none. */
export type TermMatch =
  | {
      readonly kind: 'value';
      readonly system?: string | null | undefined;
      readonly value?: string | undefined;
    }
  /** Any of these values. */
  | { readonly kind: 'in'; readonly values: readonly string[] }
  | { readonly kind: 'text'; readonly how: 'starts' | 'contains'; readonly value: string }
  /** Bounds in milliseconds; each is a column and how it compares. */
  | { readonly kind: 'time'; readonly anyOf: readonly (readonly TimeBound[])[] };

export interface TimeBound {
  readonly column: 'low' | 'high';
  readonly operator: '<' | '<=' | '>' | '>=';
  readonly value: number;
}

/** A document meets it with any term of this name that is accepted; `absent`: with none. */
export interface TermCondition {
  readonly name: string;
  readonly absent: boolean;
  /** Empty: any term of the name. */
  readonly anyOf: readonly TermMatch[];
}

export interface DocumentSort {
  readonly by: 'moment' | 'updated';
  readonly descending: boolean;
}

export interface DocumentQuery {
  readonly type: string;
  /** Only documents of this client, and everybody's; absent: of all clients. */
  readonly owner?: string | undefined;
  /** All have to be met. */
  readonly conditions: readonly TermCondition[];
  /** By the first, then the next; what is alike in all comes in the order of filing, or the latest first. */
  readonly sort: readonly DocumentSort[];
  readonly limit: number;
  readonly offset: number;
  /** Leaves out what was filed after a former look; absent: none. */
  readonly upTo?: number | undefined;
}

export interface DocumentPage {
  /** Of all pages; null: more than are counted. */
  readonly total: number | null;
  readonly documents: readonly StoredDocument[];
  /** For `upTo` of the next page. */
  readonly upTo: number;
}

export interface DocumentReader {
  /** @param version absent: the current one */
  findDocument(type: string, id: string, version?: number): StoredDocument | undefined;
  searchDocuments(query: DocumentQuery): DocumentPage;
}
