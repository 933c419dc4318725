/**
 * Every rule that can stand in the way, in order of precedence: where several would refuse a command, the one that
 * stands first here is given.
 */
export const refusalCodes = [
  'not_on_record',
  'song_unknown',
  'version_unknown',
  'note_unknown',
  'request_unknown',
  'person_unknown',
  'not_entitled',
  'not_your_note',
  'round_unknown',
  'lock_break_unknown',
  'malformed',
  'already_exists',
  'stems_too_many',
  'stem_repeated',
  'stem_rate_differs',
  'stem_length_differs',
  'contract_missing',
  'contract_agreed',
  'contract_not_agreed',
  'not_a_signer',
  'amendment_pending',
  'no_amendment_pending',
  'own_side',
  'person_in_contract',
  'production_not_locked',
  'production_locked',
  'mix_gate_open',
  'gate_closed',
  'gate_open',
  'reopening_pending',
  'not_pending',
  'wrong_file',
  'change_in_progress',
  'round_waits_for_go_ahead',
  'round_already_sent',
  'round_not_sent',
  'round_awaits_answer',
  'request_sent',
  'level_unchanged',
  'request_not_in_round',
  'contradiction_settled',
  'change_already_decided',
  'change_not_priced',
  'sections_changed_meanwhile',
  'reason_missing',
  'round_empty',
  'contradiction_unsettled',
  'points_over_cap',
  'round_beyond_contract',
  'reopening_beyond_contract',
] as const;
export type RefusalCode = (typeof refusalCodes)[number];

/** An expected no: which rule, what it means here, what is safe, and the next step. */
export interface Refusal {
  code: RefusalCode;
  message: string;
  /** For `round_beyond_contract`, `reopening_beyond_contract` and a price that has changed: the fee to be agreed to. */
  feeMinorUnits?: number;
  /** For `contradiction_unsettled`: the pairs that wait. */
  requestIds?: [string, string][];
}
