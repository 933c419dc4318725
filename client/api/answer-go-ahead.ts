import { songCalls } from './song-calls.ts';
import type { RoundGate } from './types.ts';

/** Sends the payer's answer to a round, a change order or a reopening; `refusal` is the reason for no. */
export function answerGoAhead(
  recordId: string,
  goAhead: {
    kind: 'round' | 'change' | 'reopening';
    songId: string;
    gate: RoundGate;
    number: number;
    /** The fee that the payer saw. */
    feeMinorUnits: number;
  },
  refusal: string | null,
): Promise<unknown> {
  const calls = songCalls(recordId, goAhead.songId);
  const { gate, number, feeMinorUnits } = goAhead;
  switch (goAhead.kind) {
    case 'round':
      return refusal === null
        ? calls.giveRoundGoAhead(gate, number, feeMinorUnits)
        : calls.declineRound(gate, number, refusal);
    case 'change':
      return refusal === null
        ? calls.acceptChange(number, feeMinorUnits)
        : calls.refuseChange(number, refusal);
    case 'reopening':
      return refusal === null ? calls.giveReopeningGoAhead(gate) : calls.declineReopening(gate, refusal);
  }
}
