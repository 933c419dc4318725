import type { LockBreak } from './change-order.ts';
import type { Song } from './record.ts';
import { agreedTerms, lockBreakOf, money, refuse, requireReason, requireRole, songOf } from './refused.ts';
import { reopeningPrice } from './reopening-price.ts';
import type { Rules } from './rule.ts';

const decided: readonly LockBreak['status'][] = ['withdrawn', 'declined', 'refused', 'accepted', 'delivered'];
/** A price that the payer refused can be followed by another one. */
const beyondPricing = decided.filter((status) => status !== 'refused');

function requireUndecided(lockBreak: LockBreak, closed = decided): void {
  if (closed.includes(lockBreak.status))
    refuse(
      'change_already_decided',
      `Lock break ${lockBreak.number} is ${lockBreak.status} already; that stays on the record.`,
    );
}

function requirePriced(song: Song, number: number): Extract<LockBreak, { status: 'priced' }> {
  const lockBreak = lockBreakOf(song, number);
  requireUndecided(lockBreak);
  return lockBreak.status === 'priced'
    ? lockBreak
    : refuse('change_not_priced', `The producer has not priced lock break ${number} yet.`);
}

type ChangeCommand = 'declineChange' | 'priceChange' | 'acceptChange' | 'refuseChange';

/** Production-level requests at a locked production: declined, or priced as change orders and paid for. */
export const decideChange: Rules<ChangeCommand> = {
  declineChange: ({ record, person, command: { song: songId, number, reason } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['producer'], 'Declining a change to the production');
    const lockBreak = lockBreakOf(song, number);
    requireUndecided(lockBreak);
    requireReason(reason, 'Declining a change');
    return [{ type: 'changeDeclined', song: song.id, number, reason }];
  },

  priceChange: ({ record, person, command: { song: songId, number, hours, words } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['producer'], 'Pricing a change to the production');
    const lockBreak = lockBreakOf(song, number);
    if (!(hours > 0 && hours < 10_000))
      refuse('malformed', 'The price of a change is given in hours, more than zero.');
    const terms = agreedTerms(record);
    requireUndecided(lockBreak, beyondPricing);
    requireReason(words, 'A change order');
    const amountMinorUnits = Math.round(hours * terms.productionRateMinorUnits);
    if (
      lockBreak.status === 'priced' &&
      lockBreak.price.amountMinorUnits === amountMinorUnits &&
      lockBreak.price.hours === hours &&
      lockBreak.price.words === words
    )
      return [];
    return [{ type: 'changePriced', song: song.id, number, price: { hours, amountMinorUnits, words } }];
  },

  acceptChange: ({ record, person, command: { song: songId, number, agreedFeeMinorUnits } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'Accepting a change order');
    const known = lockBreakOf(song, number);
    if (known.status === 'accepted' || known.status === 'delivered') return [];
    if (song.gates.mix.status === 'closed')
      refuse(
        'gate_closed',
        `The mix is signed, and a new production means a new mix. Reopen the mix gate first${reopeningPrice(record, song, 'mix').words}.`,
      );
    const { price } = requirePriced(song, number);
    if (agreedFeeMinorUnits !== undefined && agreedFeeMinorUnits !== price.amountMinorUnits)
      refuse(
        'change_not_priced',
        `Change order ${number} was priced anew meanwhile: it is ${money(agreedTerms(record), price.amountMinorUnits)} now. Nothing is agreed to yet; look at it again.`,
        { feeMinorUnits: price.amountMinorUnits },
      );
    return [
      { type: 'changeAccepted', song: song.id, number, amountMinorUnits: price.amountMinorUnits },
      { type: 'lockOpened', song: song.id, changes: [number] },
    ];
  },

  refuseChange: ({ record, person, command: { song: songId, number, reason } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'Refusing a change order');
    requirePriced(song, number);
    requireReason(reason, 'Refusing a change order');
    return [{ type: 'changeRefused', song: song.id, number, reason }];
  },
};
