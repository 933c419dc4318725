import type { Gate } from './contract.ts';
import { samePlace } from './explanation.ts';
import type { Fact } from './ledger-entry.ts';
import type { Role } from './person.ts';
import { productionLock, type RecordState, roundStandings, type Song } from './record.ts';
import { refuse, requireRole, songOf, versionOf } from './refused.ts';
import { reopeningPrice } from './reopening-price.ts';
import type { Rules } from './rule.ts';
import { versionName } from './version.ts';

/** Who may post at each gate, and so speak for what was posted there. */
export const posters: Record<Gate, (Role | 'owner')[]> = {
  production: ['producer', 'mix engineer', 'owner'],
  mix: ['mix engineer'],
  master: ['mastering engineer'],
};

function requireOpenGate(record: RecordState, song: Song, gate: Gate, changes: number[]): void {
  const lock = productionLock(song);
  if (gate === 'production') {
    if (lock.status === 'locked')
      refuse(
        'production_locked',
        'The production is locked: approved and frozen. A change to it starts as a request, is priced by the producer and accepted by the payer.',
      );
    const open = lock.status === 'open for changes' ? lock.changes : [];
    if (changes.some((number) => !open.includes(number)) || (open.length > 0 && !changes.length))
      refuse(
        'malformed',
        open.length
          ? `The lock is open for change ${open.join(', ')} only: say which of them this production contains.`
          : 'No change order was accepted, so a production contains none.',
      );
    return;
  }
  if (lock.status === 'open')
    refuse(
      'production_not_locked',
      'The production is not locked yet. A mix starts once the production is signed, so that everybody mixes the same song.',
    );
  if (gate === 'master' && song.gates.mix.status === 'open')
    refuse(
      'mix_gate_open',
      'Mastering starts on the signed mix, and the mix gate is open. Sign one mix version first.',
    );
  if (song.gates[gate].status === 'closed') {
    const price = reopeningPrice(record, song, gate);
    refuse(
      'gate_closed',
      `The ${gate} gate is closed on a signed file. Reopen it on the record first${price.words}; your file is kept.`,
    );
  }
}

const longestExplanation = 20_000;

/** Posting a version: numbered at its gate, and the answer to the round that was sent there; and what is said about it. */
export const decideVersion: Rules<'postVersion' | 'explainChange'> = {
  postVersion: ({ record, person, command }) => {
    const { gate, versionId, file, printNotes, warnings, changes } = command;
    const song = songOf(record, command.song);
    requireRole(record, person, posters[gate], `Posting at the ${gate} gate`);
    const known = song.versions.find((version) => version.id === versionId);
    if (known)
      return known.file.sha256 === file.sha256
        ? []
        : refuse('already_exists', 'A version is never overwritten. Post the new file as a new version.');
    requireOpenGate(record, song, gate, changes);
    const number = song.versions.filter((version) => version.gate === gate).length + 1;
    const standing = gate === 'production' ? undefined : roundStandings(record, song, gate).at(-1);
    if (standing?.waitsForGoAhead)
      refuse(
        'round_waits_for_go_ahead',
        `Round ${standing.round.number} is beyond the contract and waits for the payer's go-ahead. Your file is kept.`,
      );
    const answers = standing?.round.status === 'sent' ? standing.round.number : null;
    const posted: Fact = {
      type: 'versionPosted',
      song: song.id,
      version: {
        id: versionId,
        gate,
        number,
        name: versionName(gate, number),
        file,
        printNotes,
        warnings,
        answersRound: answers,
        changes,
      },
    };
    if (gate === 'production') return [posted];
    if (!standing) return [posted, { type: 'roundOpened', song: song.id, gate, number: 1 }];
    if (answers === null) return [posted];
    return [
      posted,
      {
        type: 'roundAnswered',
        song: song.id,
        gate,
        number: answers,
        versionId,
        counts: standing.counts,
        beyond: standing.beyond,
      },
      { type: 'roundOpened', song: song.id, gate, number: answers + 1 },
    ];
  },

  explainChange: ({ record, person, command }) => {
    const { olderVersionId, newerVersionId, place, text } = command;
    const song = songOf(record, command.song);
    const older = versionOf(song, olderVersionId);
    const newer = versionOf(song, newerVersionId);
    requireRole(record, person, posters[newer.gate], `Explaining what changed in ${newer.name}`);
    if (song.versions.indexOf(older) >= song.versions.indexOf(newer))
      refuse('malformed', `${newer.name} was not posted after ${older.name}: a change goes from old to new.`);
    if (
      place &&
      (!(place.startSeconds >= 0) ||
        place.startSeconds > newer.file.durationSeconds ||
        (place.endSeconds !== null && !(place.endSeconds > place.startSeconds)))
    )
      refuse('malformed', `The place of the change does not lie in ${newer.name}.`);
    if (!text.trim())
      refuse('malformed', 'The explanation is empty. Say why it changed, or that it goes back.');
    if (text.length > longestExplanation)
      refuse(
        'malformed',
        `An explanation holds up to ${longestExplanation.toLocaleString('en')} characters.`,
      );
    const last = song.explanations.findLast(
      (each) =>
        each.olderVersionId === olderVersionId &&
        each.newerVersionId === newerVersionId &&
        samePlace(each.place, place),
    );
    if (last?.text === text && last.by === person.id) return [];
    return [{ type: 'changeExplained', song: song.id, olderVersionId, newerVersionId, place, text }];
  },
};
