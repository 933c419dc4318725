import type { Context } from 'hono';
import type { ContentfulStatusCode } from 'hono/utils/http-status';
import type { Refusal, RefusalCode } from '../domain/refusal.ts';

/** Refusals of the HTTP layer itself. */
export type HttpRefusalCode =
  | 'malformed_body'
  | 'not_signed_in'
  | 'link_not_valid'
  | 'foreign_origin'
  | 'not_found'
  | 'not_ready'
  | 'not_measured'
  | 'key_reused'
  | 'too_many'
  | 'too_large'
  | 'storage_full'
  | 'upload_refused'
  | 'upload_not_ready'
  | 'not_entitled_here'
  | 'internal';

type Status = ContentfulStatusCode;

/** The one table that turns codes into statuses; it fails to compile when a code has no row. */
const statuses: Record<RefusalCode | HttpRefusalCode, Status> = {
  not_on_record: 404,
  song_unknown: 404,
  version_unknown: 404,
  note_unknown: 404,
  request_unknown: 404,
  round_unknown: 404,
  lock_break_unknown: 404,
  person_unknown: 404,
  not_entitled: 403,
  not_your_note: 403,
  malformed: 422,
  already_exists: 409,
  stems_too_many: 422,
  stem_repeated: 422,
  stem_rate_differs: 422,
  stem_length_differs: 422,
  contract_missing: 409,
  contract_agreed: 409,
  contract_not_agreed: 409,
  amendment_pending: 409,
  no_amendment_pending: 409,
  own_side: 403,
  person_in_contract: 409,
  production_not_locked: 409,
  production_locked: 409,
  mix_gate_open: 409,
  gate_closed: 409,
  gate_open: 409,
  reopening_pending: 409,
  not_pending: 409,
  wrong_file: 409,
  not_a_signer: 403,
  change_in_progress: 409,
  round_waits_for_go_ahead: 409,
  round_already_sent: 409,
  round_not_sent: 409,
  round_awaits_answer: 409,
  request_sent: 409,
  level_unchanged: 409,
  request_not_in_round: 409,
  contradiction_settled: 409,
  change_already_decided: 409,
  change_not_priced: 409,
  sections_changed_meanwhile: 412,
  reason_missing: 422,
  round_empty: 409,
  contradiction_unsettled: 409,
  points_over_cap: 409,
  round_beyond_contract: 409,
  reopening_beyond_contract: 409,
  malformed_body: 400,
  not_signed_in: 401,
  link_not_valid: 404,
  foreign_origin: 403,
  not_found: 404,
  not_ready: 404,
  not_measured: 422,
  key_reused: 422,
  too_many: 429,
  too_large: 413,
  storage_full: 507,
  upload_refused: 415,
  upload_not_ready: 409,
  not_entitled_here: 403,
  internal: 500,
};

const titles: Partial<Record<Status, string>> = {
  400: 'Malformed',
  401: 'Not signed in',
  403: 'Not allowed',
  404: 'Not found',
  409: 'The state refuses',
  412: 'Changed meanwhile',
  413: 'Too large',
  415: 'Not audio that is taken',
  422: 'Well formed but invalid',
  429: 'Too many',
  500: 'Something broke',
  507: 'Storage full',
};

/** A refusal as `application/problem+json` (RFC 9457). */
export function problem(
  context: Context,
  code: RefusalCode | HttpRefusalCode,
  detail: string,
  more: Omit<Partial<Refusal>, 'code' | 'message'> & { progress?: number } = {},
): Response {
  const status = statuses[code];
  return context.body(
    JSON.stringify({
      type: `urn:countoff:refusal:${code}`,
      title: titles[status] ?? 'Refused',
      status,
      detail,
      code,
      ...more,
    }),
    status,
    { 'content-type': 'application/problem+json' },
  );
}

export function refusalProblem(context: Context, { code, message, ...more }: Refusal): Response {
  return problem(context, code, message, more);
}
