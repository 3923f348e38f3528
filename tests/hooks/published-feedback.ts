/** What HL7 publishes of feedback (CDS Hooks 2.0.1, section Feedback; invariants of the logical model): data for tests. */

/** The three examples, in the order of the page. */
export const PUBLISHED_FEEDBACK = [
  {
    feedback: [
      {
        card: '4e0a3a1e-3283-4575-ab82-028d55fe2719',
        outcome: 'accepted',
        acceptedSuggestions: [{ id: 'e56e1945-20b3-4393-8503-a1a20fd73152' }],
        outcomeTimestamp: '2021-12-11T10:05:31Z',
      },
    ],
  },
  {
    feedback: [
      {
        card: 'f6b95768-b1c8-40dc-8385-bf3504b82ffb',
        outcome: 'overridden',
        outcomeTimestamp: '2020-12-11T00:00:00Z',
      },
    ],
  },
  {
    feedback: [
      {
        card: '9368d37b-283f-44a0-93ea-547cebab93ed',
        outcome: 'overridden',
        overrideReason: {
          reason: { code: 'd7ecf885', system: 'https://example.com/cds-hooks/override-reason-system' },
          userComment: 'A comment entered by the clinician.',
        },
        outcomeTimestamp: '2020-12-11T00:00:00Z',
      },
    ],
  },
] as const;

/** `input/fsh/invariants`: of an entry, or of its overrideReason. */
export const PUBLISHED_INVARIANTS = {
  'cds-fb-1': { of: 'feedback', expression: "outcome = 'accepted' or outcome = 'overridden'" },
  'cds-fb-2': { of: 'feedback', expression: "(outcome = 'accepted') implies acceptedSuggestions.exists()" },
  'cds-fb-3': { of: 'feedback.overrideReason', expression: 'reason.exists() or userComment.exists()' },
} as const;
