import type { Fact, LedgerEntry } from '../domain/ledger-entry.ts';
import { formatMoney } from '../domain/money.ts';
import type { Person } from '../domain/person.ts';
import type { RecordState } from '../domain/record.ts';
import { clockTime } from './clock-time.ts';

const hats = (person: Person) => [...(person.owner ? ['owner'] : []), ...person.roles].join(', ');
const shortHash = (sha256: string) => `${sha256.slice(0, 8)}…${sha256.slice(-4)}`;

/** What an entry says, as a sentence that the name of whoever did it stands before. */
export function ledgerWords(record: RecordState, { fact }: Pick<LedgerEntry, 'fact'>): string {
  const name = (id: string) => record.people[id]?.name ?? 'somebody no longer on the record';
  const money = (minorUnits: number) =>
    formatMoney({ minorUnits, currency: record.contract?.terms.currency ?? 'EUR' });
  const song = 'song' in fact ? record.songs[fact.song] : undefined;
  const on = song ? ` · ${song.title}` : '';
  const versionName = (id: string) =>
    song?.versions.find((version) => version.id === id)?.name ?? 'a version';
  const wish = (id: string) => {
    const request = song?.requests.find((each) => each.id === id);
    return request ? `“${request.text}”` : 'a request';
  };
  return `${sentence(fact)}${on}`;

  function sentence(fact: Fact): string {
    switch (fact.type) {
      case 'recordOpened':
        return `opened the record “${fact.title}” by ${fact.act}`;
      case 'recordRenamed':
        return `named the record “${fact.title}” by ${fact.act}`;
      case 'personAdded':
        return `added ${fact.person.name} (${hats(fact.person)})`;
      case 'personChanged':
        return `changed ${fact.person.name} (${hats(fact.person)})`;
      case 'personRemoved':
        return `removed ${name(fact.personId)}`;
      case 'linkIssued':
        return `made a personal link for ${name(fact.personId)}`;
      case 'linkRevoked':
        return `revoked a personal link of ${name(fact.personId)}`;
      case 'contractDrafted':
        return 'drafted the contract';
      case 'contractAgreed':
        return `agreed to the contract (${fact.how})`;
      case 'amendmentProposed':
        return `proposed amendment ${fact.number} (${fact.reason})`;
      case 'amendmentAccepted':
        return `accepted amendment ${fact.number}`;
      case 'amendmentDeclined':
        return `declined amendment ${fact.number} (${fact.reason})`;
      case 'songAdded':
        return 'added the song';
      case 'songRenamed':
        return `renamed the song “${fact.title}”`;
      case 'sectionsNamed':
        return `named ${fact.sections.length} sections`;
      case 'partsNamed':
        return `listed ${fact.parts.length} parts`;
      case 'partAnswered':
        return `answered that ${fact.part.name} is ${fact.part.delivered ? '' : 'not '}in the recording`;
      case 'versionPosted':
        return `posted ${fact.version.name} (SHA-256 ${shortHash(fact.version.file.sha256)})`;
      case 'stemsAttached':
        return `${fact.reason ? 'replaced' : 'attached'} the stems of ${versionName(fact.versionId)}: ${fact.stems.map((stem) => stem.name).join(', ')}${fact.reason ? ` (${fact.reason})` : ''}`;
      case 'changeExplained': {
        const where = fact.place ? ` at ${clockTime(fact.place.startSeconds)}` : '';
        return `explained what changed${where} from ${versionName(fact.olderVersionId)} to ${versionName(fact.newerVersionId)}: “${fact.text}”`;
      }
      case 'roundOpened':
        return `opened round ${fact.number} at the ${fact.gate} gate`;
      case 'roundAnswered':
        return fact.versionId
          ? `answered round ${fact.number} with ${versionName(fact.versionId)}`
          : `moved on from round ${fact.number}, which asks for no new version`;
      case 'noteWritten':
        return `wrote on ${versionName(fact.versionId)}: “${fact.text}”${fact.afterApproval ? ' (after approval)' : ''}`;
      case 'noteWithdrawn':
        return 'withdrew a note';
      case 'noteReplied':
        return `replied: “${fact.text}”`;
      case 'contradictionFound':
        return `brought up a contradiction: ${wish(fact.requestIds[0])} and ${wish(fact.requestIds[1])} (${fact.why})`;
      case 'contradictionSettled':
        return fact.kept
          ? `settled a contradiction for ${wish(fact.kept)} (${fact.reason})`
          : `let both requests stand (${fact.reason})`;
      case 'requestLeftOut':
        return `left out ${wish(fact.requestId)} (${fact.reason})`;
      case 'requestTakenBackIn':
        return `took ${wish(fact.requestId)} back in`;
      case 'requestsMerged':
        return `made one request of ${[fact.into, ...fact.others].map(wish).join(' and ')}`;
      case 'requestsUnmerged':
        return `took apart what had been made one with ${wish(fact.into)}`;
      case 'requestsKeptApart':
        return `said that ${fact.requestIds.map(wish).join(' and ')} are ${fact.requestIds.length === 2 ? 'two' : 'different'} wishes`;
      case 'levelChosen':
        return `chose the level ${fact.level} for ${wish(fact.requestId)}`;
      case 'requestResorted':
        return `re-sorted ${wish(fact.requestId)} as ${fact.level} (${fact.reason})`;
      case 'roundSent':
        return `sent round ${fact.number} on ${versionName(fact.versionId)} as one list`;
      case 'roundQuoted':
        return `quoted round ${fact.number}: ${fact.hours} h, ${money(fact.feeMinorUnits)}`;
      case 'roundGoAheadGiven':
        return `gave the go-ahead to round ${fact.number} beyond the contract, ${money(fact.feeMinorUnits)}`;
      case 'roundDeclined':
        return `declined round ${fact.number} beyond the contract (${fact.reason})`;
      case 'noteDaysExtended':
        return `granted days for notes until ${fact.until.slice(0, 10)} (${fact.reason})`;
      case 'requestParked':
        return `parked ${wish(fact.requestId)} for the master gate`;
      case 'requestUnparked':
        return `took ${wish(fact.requestId)} off the mastering brief`;
      case 'requestAnswered':
        return `answered ${wish(fact.requestId)}: ${fact.answer}${fact.text ? ` (${fact.text})` : ''}`;
      case 'ownMistakeMarked':
        return `marked ${wish(fact.requestId)} as an own mistake, which counts no round (${fact.reason})`;
      case 'lockBroken':
        return `broke the lock with ${wish(fact.requestId)}: lock break ${fact.number} is with the producer`;
      case 'lockBreakWithdrawn':
        return `withdrew lock break ${fact.number} by re-sorting`;
      case 'changeDeclined':
        return `declined lock break ${fact.number} (${fact.reason})`;
      case 'changePriced':
        return `priced change order ${fact.number}: ${fact.price.hours} h, ${money(fact.price.amountMinorUnits)} (${fact.price.words})`;
      case 'changeAccepted':
        return `accepted change order ${fact.number}, ${money(fact.amountMinorUnits)}`;
      case 'changeRefused':
        return `refused change order ${fact.number} (${fact.reason})`;
      case 'lockOpened':
        return `opened the production lock for change ${fact.changes.join(', ')} only`;
      case 'signedOff':
        return `signed ${versionName(fact.versionId)} at the ${fact.gate} gate (SHA-256 ${shortHash(fact.sha256)})`;
      case 'signatureWithdrawn':
        return `withdrew a signature at the ${fact.gate} gate (${fact.reason})`;
      case 'gateClosed':
        return `closed the ${fact.gate} gate on ${versionName(fact.versionId)} (SHA-256 ${shortHash(fact.sha256)})`;
      case 'productionLocked':
        return `locked the production on ${versionName(fact.versionId)}${fact.changes.length ? ` with change ${fact.changes.join(', ')}` : ''}`;
      case 'reopeningAsked':
        return `asked to reopen the ${fact.gate} gate, ${money(fact.feeMinorUnits)} (${fact.reason})`;
      case 'reopeningDeclined':
        return `declined to reopen the ${fact.gate} gate (${fact.reason})`;
      case 'gateReopened':
        return `reopened the ${fact.gate} gate${fact.feeMinorUnits ? `, ${money(fact.feeMinorUnits)}` : ''} (${fact.reason})`;
    }
  }
}
