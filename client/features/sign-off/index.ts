import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { answerGoAhead } from '../../api/answer-go-ahead.ts';
import { isPending, Refusal } from '../../api/call.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { Gate, GateView, Measurement, RoundGate, SongSheet, VersionView } from '../../api/types.ts';
import { announceRefusal, attempt } from '../../elements/announcer.ts';
import { ask } from '../../elements/ask.ts';
import { listWords } from '../../elements/count-words.ts';
import { dayWords, momentWords } from '../../elements/date-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { figuresTable } from '../../elements/figures-table.ts';
import { fileHash } from '../../elements/file-hash.ts';
import { fileSizeWords, storedFormatWords } from '../../elements/format-words.ts';
import { gateOrder, gateWord, versionWord } from '../../elements/gate-words.ts';
import { type GoAheadAnswer, goAheadsOf } from '../../elements/go-aheads.ts';
import { money } from '../../elements/money.ts';
import { timeCode } from '../../elements/time-code.ts';
import { navigate } from '../../navigate.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import './sign-dialog.ts';
import type { SignatureGiven, Signing } from './sign-dialog.ts';
import './sign-off.css';

export const tag = 'countoff-sign-off';

const pollMilliseconds = 1000;

/** Sign-off of one song: the file with its SHA-256 and figures, who signed which file, and what a closed gate stands on. */
@customElement(tag)
export class SignOffPage extends FeatureElement {
  @state() private signing: Signing | null = null;
  @state() private measurement: Measurement | null = null;
  @state() private measuring = 0;
  @state() private measurementFault: string | null = null;
  private measured = '';
  private timer: ReturnType<typeof setTimeout> | undefined;

  override disconnectedCallback() {
    super.disconnectedCallback();
    clearTimeout(this.timer);
    this.measured = '';
  }

  private get calls() {
    return songCalls(this.recordId, this.songId);
  }

  /** The gate in view: the one that the address names, else the one where somebody can sign now. */
  private shownGate(sheet: SongSheet): Gate {
    const asked = gateOrder.find((gate) => gate === this.query.get('gate'));
    if (asked) return asked;
    const delivered =
      sheet.lock.status === 'open for changes' &&
      sheet.versions.some(
        (version) =>
          version.gate === 'production' &&
          sheet.lock.status === 'open for changes' &&
          version.changes.some((number) => (sheet.lock as { changes: number[] }).changes.includes(number)),
      );
    return delivered ? 'production' : (sheet.gate ?? 'master');
  }

  private shownVersion(sheet: SongSheet, gate: Gate): VersionView | null {
    const here = sheet.versions.filter((version) => version.gate === gate);
    const closed = this.isOpen(sheet, gate) ? null : sheet.gates[gate].versionId;
    return (
      here.find((version) => version.id === this.query.get('v')) ??
      here.find((version) => version.id === closed) ??
      here.at(-1) ??
      null
    );
  }

  /** Whether signatures are taken at a gate: open, or the production's while its lock is open for a change. */
  private isOpen(sheet: SongSheet, gate: Gate): boolean {
    return (
      sheet.gates[gate].status === 'open' ||
      (gate === 'production' && sheet.lock.status === 'open for changes')
    );
  }

  private gateState(sheet: SongSheet, gate: Gate): string {
    if (gate === 'production' && sheet.lock.status === 'open for changes')
      return `open for change ${sheet.lock.changes.join(', ')}`;
    if (sheet.gates[gate].status === 'closed') return `closed on ${sheet.gates[gate].versionName}`;
    return gate === sheet.gate ? 'open' : 'to come';
  }

  protected override willUpdate() {
    const { sheet } = this;
    if (!sheet || !this.isConnected) return;
    const version = this.shownVersion(sheet, this.shownGate(sheet));
    const key = version ? `${version.id} ${version.analysis.state} ${sheet.song.sectionMap.revision}` : '';
    if (key === this.measured) return;
    this.measured = key;
    clearTimeout(this.timer);
    this.measurement = null;
    this.measurementFault = version?.analysis.state === 'failed' ? version.analysis.message : null;
    if (version && !this.measurementFault) void this.measure(version.id, key);
  }

  private async measure(versionId: string, key: string) {
    try {
      const answer = await this.calls.measurement(versionId);
      if (key !== this.measured) return;
      if (isPending(answer)) {
        this.measuring = answer.progress;
        this.timer = setTimeout(() => void this.measure(versionId, key), pollMilliseconds);
      } else this.measurement = answer;
    } catch (error) {
      if (key !== this.measured) return;
      if (error instanceof Refusal) this.measurementFault = error.message;
      else announceRefusal(error);
    }
  }

  private sign = async (event: CustomEvent<SignatureGiven>) => {
    const { gate, version, statement } = event.detail;
    const done = await attempt(
      () => this.calls.signOff(gate, { versionId: version.id, sha256: version.file.sha256, statement }),
      `Signed: ${version.name}. It is on the ledger with your name and the time.`,
    );
    if (!done) return;
    this.signing = null;
    // Stays with what was signed, also where that moves the song on to the next gate.
    navigate(songAddress(this.recordId, this.songId, 'sign-off', { gate, v: version.id }), { replace: true });
  };

  private async withdraw(gate: Gate) {
    const reason = await ask({
      heading: 'Withdraw your signature?',
      words: 'That you signed and that you withdrew both stay on the ledger.',
      label: 'Your reason',
      confirm: 'Withdraw it',
    });
    if (reason) await attempt(() => this.calls.withdrawSignature(gate, reason), 'Withdrawn.');
  }

  private async reopen(gate: RoundGate, view: GateView, sheet: SongSheet) {
    const { feeMinorUnits, clause } = view.reopeningPrice;
    const price = money(feeMinorUnits, sheet.currency);
    const reason = await ask({
      heading: `Reopen the ${gate} gate?`,
      words: feeMinorUnits
        ? `It costs ${price} beyond the contract, by its clause: ${clause}. ${sheet.reader.payer ? 'You pay, so it opens at once.' : 'It waits for the payer’s yes.'} The signatures so far stay on the ledger; a new version has to be signed.`
        : 'By the contract it costs nothing. The signatures so far stay on the ledger; a new version has to be signed.',
      label: 'Your reason',
      confirm: feeMinorUnits ? `Reopen for ${price}` : 'Reopen',
    });
    if (!reason) return;
    await attempt(
      () => this.calls.reopenGate(gate, { reason, agreedFeeMinorUnits: feeMinorUnits || null }),
      feeMinorUnits && !sheet.reader.payer ? 'Asked; it waits for the payer.' : 'Reopened.',
    );
  }

  private answer = (event: CustomEvent<GoAheadAnswer>) => {
    const { goAhead, refusal } = event.detail;
    void attempt(() => answerGoAhead(this.recordId, goAhead, refusal));
  };

  /** Requests on the open list of the gate that is about to be signed. */
  private get unsent(): number {
    const round = this.sheet?.openRound;
    if (!this.sheet || round?.gate !== this.signing?.gate) return 0;
    const standing = new Set(round?.requestIds);
    return this.sheet.notes
      .flatMap((note) => note.requests)
      .filter((request) => standing.has(request.id) && request.level !== 'none').length;
  }

  /** Why nothing can be signed at a gate now; the server decides again. */
  private obstacle(sheet: SongSheet, gate: Gate): string | null {
    const { contract } = this.record ?? {};
    if (contract && contract.status !== 'agreed')
      return 'The contract is a draft. Signing starts once both sides have agreed to it.';
    if (gate === 'production') return null;
    if (sheet.lock.status === 'open') return 'The production is not signed yet; it comes first.';
    if (gate === 'master' && sheet.gates.mix.status === 'open')
      return 'The mix gate is open; one mix is signed first.';
    if (sheet.lock.status === 'open for changes')
      return `The production lock is open for change ${sheet.lock.changes.join(', ')}: the new production is delivered and signed first.`;
    const round = sheet.rounds.findLast((each) => each.gate === gate && each.status === 'sent');
    if (round?.waitsForGoAhead)
      return `Round ${round.number} waits for the payer’s go-ahead; that is settled first.`;
    return round ? `Round ${round.number} was sent, so a new version is coming. Sign that one.` : null;
  }

  private lede(sheet: SongSheet, gate: Gate, version: VersionView | null) {
    const view = sheet.gates[gate];
    if (!this.isOpen(sheet, gate))
      return html`The ${gate} gate is <b>closed on ${view.versionName}</b>, signed by ${listWords(view.signatures.map((each) => each.person.name))}.`;
    if (!version)
      return html`There is no ${versionWord[gate].toLowerCase()} to sign yet. ${sheet.turn.sentence}`;
    const newest = sheet.versions.findLast((each) => each.gate === gate)!;
    const mine = view.missing.some((person) => person.id === sheet.reader.person.id);
    const others = view.missing.filter((person) => person.id !== sheet.reader.person.id);
    if (this.obstacle(sheet, gate)) return html`${newest.name} is up, but <b>nothing can be signed yet</b>.`;
    if (mine)
      return html`${newest.name} <b>waits for your signature</b>${others.length ? ` and ${listWords(others.map((each) => each.name))}’s` : ''}.`;
    return others.length
      ? html`${newest.name} waits for <b>${listWords(others.map((each) => each.name))}</b>. Nothing waits for you here.`
      : html`Everybody signed.`;
  }

  private signatures(sheet: SongSheet, gate: Gate) {
    const view = sheet.gates[gate];
    const required = this.record?.contract?.terms.signers[gate] ?? [];
    const open = this.isOpen(sheet, gate);
    const people = required.map(
      (id) => sheet.people.find((person) => person.id === id) ?? { id, name: 'somebody', roles: [] },
    );
    return html`<section class="who">
      <h2>Who signs</h2>
      <p class="caution">By the contract, at the ${gate} gate: all of them, on the same file.</p>
      ${view.disagreement ? html`<p class="aside disagreement" role="status">${view.disagreement}</p>` : nothing}
      <ul class="rows">
        ${people.map(({ id, name }) => {
          const signature = view.signatures.find((each) => each.person.id === id);
          return html`<li class="signer">
            <b>${name}</b>
            <div>
              ${
                signature
                  ? html`<span class="signed">signed ${signature.versionName}</span>, ${momentWords(signature.at)}<small class="statement"
                        >“${signature.statement}”</small
                      >${fileHash(signature.sha256)}`
                  : html`<span class="unsigned">not signed</span>`
              }
            </div>
            <div class="acts">
              ${
                signature && open && id === sheet.reader.person.id
                  ? html`<button type="button" class="quiet" @click=${() => this.withdraw(gate)}>Withdraw…</button>`
                  : nothing
              }
            </div>
          </li>`;
        })}
      </ul>
      ${required.length ? nothing : html`<p>The contract names nobody to sign here yet.</p>`}
    </section>`;
  }

  private versionChoice(sheet: SongSheet, gate: Gate, shown: VersionView) {
    const versions = sheet.versions.filter((version) => version.gate === gate);
    if (versions.length < 2) return nothing;
    const choose = (event: Event) =>
      navigate(
        songAddress(this.recordId, this.songId, 'sign-off', {
          gate,
          v: (event.target as HTMLSelectElement).value,
        }),
        { replace: true },
      );
    return html`<label class="field choice"
      >Version in view<select @change=${choose}>
        ${versions
          .toReversed()
          .map(
            (version) =>
              html`<option value=${version.id} ?selected=${version === shown}>${version.name}${version.newest ? ', the newest' : ''}</option>`,
          )}
      </select></label
    >`;
  }

  private file(sheet: SongSheet, gate: Gate, version: VersionView) {
    const { file } = version;
    const obstacle = this.obstacle(sheet, gate);
    const open = this.isOpen(sheet, gate);
    const signs = sheet.reader.signs.includes(gate);
    const own = sheet.gates[gate].signatures.find((each) => each.person.id === sheet.reader.person.id);
    const signedThis = own?.versionId === version.id;
    const newest = sheet.versions.findLast((each) => each.gate === gate);
    return html`<section class="sheet file">
      <div class="what">
        ${this.versionChoice(sheet, gate, version)}
        <h2>${version.name}</h2>
        <dl class="pairs">
          <div><dt>File</dt><dd>${file.fileName} · ${fileSizeWords(file.byteLength)}</dd></div>
          <div><dt>Format, length</dt><dd>${storedFormatWords(file)} · ${timeCode(file.durationSeconds, { tenths: true })}</dd></div>
          <div><dt>SHA-256</dt><dd>${fileHash(file.sha256)}</dd></div>
          <div><dt>Posted</dt><dd>${momentWords(version.postedAt)} by ${version.postedBy.name}</dd></div>
          ${version.printNotes ? html`<div><dt>Print notes</dt><dd class="notes">${version.printNotes}</dd></div>` : nothing}
        </dl>
        ${version.warnings.length ? html`<ul class="aside">${version.warnings.map((warning) => html`<li>${warning.words}</li>`)}</ul>` : nothing}
        ${open && signs && obstacle ? html`<p class="aside">${obstacle}</p>` : nothing}
        <div class="acts">
          ${
            open && signs && !signedThis
              ? html`<button
                  type="button"
                  class=${obstacle ? nothing : 'main'}
                  ?disabled=${obstacle !== null}
                  @click=${() => {
                    this.signing = { gate, version };
                  }}
                >Sign ${version.name}…</button>`
              : nothing
          }
          ${open && signedThis ? html`<b class="signed">You signed this file.</b>` : nothing}
          <a class="button" href=${songAddress(this.recordId, this.songId, 'listen', { v: version.id })}>Listen to it</a>
          <a href=${this.calls.fileUrl(version.id)} download>Download the exact file</a>
        </div>
        ${open && !signs ? html`<p class="caution">The contract doesn’t ask for your signature at this gate.</p>` : nothing}
        ${open && newest && newest !== version && !signedThis && signs ? html`<p class="caution">${newest.name} is newer than the version in view.</p>` : nothing}
        ${this.signatures(sheet, gate)}
      </div>
      <div class="measured">
        <h2>Measured</h2>
        ${
          this.measurement
            ? figuresTable(this.measurement)
            : this.measurementFault
              ? html`<p class="aside">${this.measurementFault}</p>`
              : html`<p role="status">Being measured … ${Math.round(this.measuring * 100)} %</p>`
        }
        <p class="caution">What figures can’t tell: whether the balance is right, a click between notes, a wrong word. Loudness doesn’t measure a voice’s place in the mix. Listen to the end before you sign.</p>
      </div>
    </section>`;
  }

  private closed(sheet: SongSheet, gate: Gate) {
    const view = sheet.gates[gate];
    if (view.status !== 'closed') return nothing;
    const price = view.reopeningPrice;
    const mayReopen = gate !== 'production' && sheet.reader.may.includes('reopenGate') && !view.reopening;
    return html`<section class="list">
      <h2>${gateWord[gate]} gate closed <small>${view.closedAt ? momentWords(view.closedAt) : ''}${view.reopened ? `, reopened ${view.reopened === 1 ? 'once' : `${view.reopened} times`} before` : ''}</small></h2>
      <div class="said">
        <p>On ${view.versionName}: ${view.sha256 ? fileHash(view.sha256) : nothing}</p>
        ${view.reopening ? html`<p class="aside">${view.reopening.by.name} asks to reopen it: “${view.reopening.reason}”. It waits for the payer, ${money(view.reopening.feeMinorUnits, sheet.currency)} (${view.reopening.feeClause}).</p>` : nothing}
        <div class="acts">
          <a class="button" href="${songAddress(this.recordId, this.songId)}/certificate/${gate}">Certificate</a>
          ${
            mayReopen
              ? html`<button type="button" class="quiet" @click=${() => this.reopen(gate as RoundGate, view, sheet)}>
                  Reopen${price.feeMinorUnits ? ` for ${money(price.feeMinorUnits, sheet.currency)}` : ''}…
                </button>`
              : nothing
          }
        </div>
      </div>
    </section>`;
  }

  private charges(sheet: SongSheet) {
    const name = (id: string) => sheet.people.find((person) => person.id === id)?.name ?? 'somebody';
    return html`<section class="list">
      <h2>Beyond the contract <small>agreed by the payer, on this song</small></h2>
      ${
        sheet.charges.length
          ? html`<ul class="rows">
              ${sheet.charges.map(
                (charge) => html`<li class="charge">
                  <div>${charge.words}<small class="clause">${charge.clause} · agreed by ${name(charge.agreedBy)} ${dayWords(charge.agreedAt)}</small></div>
                  <b>${money(charge.amountMinorUnits, sheet.currency)}</b>
                </li>`,
              )}
              <li class="charge total"><div>In all</div><b>${money(sheet.beyondContractMinorUnits, sheet.currency)}</b></li>
            </ul>`
          : html`<p class="said">Nothing so far.</p>`
      }
    </section>`;
  }

  override render() {
    const { sheet } = this;
    if (!sheet) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    const gate = this.shownGate(sheet);
    const version = this.shownVersion(sheet, gate);
    const goAheads = sheet.reader.payer ? goAheadsOf(sheet).filter((each) => each.kind !== 'change') : [];
    const { counted } = sheet;
    const newest = sheet.versions.findLast((each) => each.gate === gate);
    return html`<div class="page sign-off">
      <h1>${sheet.song.title} · sign-off</h1>
      <p class="lede">${this.lede(sheet, gate, version)}</p>
      <div class="facts">
        ${counted ? html`<span>Rounds <b>${counted.rounds} of ${counted.included}</b></span>` : nothing}
        <span>Beyond the contract <b>${money(sheet.beyondContractMinorUnits, sheet.currency)}</b></span>
      </div>
      <nav class="gate-tabs" aria-label="Gates">
        ${gateOrder.map(
          (
            each,
          ) => html`<a href=${songAddress(this.recordId, this.songId, 'sign-off', { gate: each })} aria-current=${each === gate ? 'true' : nothing}
            >${gateWord[each]}<small>${this.gateState(sheet, each)}</small></a
          >`,
        )}
      </nav>
      <countoff-go-aheads .goAheads=${goAheads} @go-ahead=${this.answer}></countoff-go-aheads>
      ${version ? this.file(sheet, gate, version) : html`<p class="empty">No ${versionWord[gate].toLowerCase()} is posted yet; there is nothing to sign.</p>`}
      ${version ? nothing : html`<section class="sheet lone">${this.signatures(sheet, gate)}</section>`} ${this.closed(sheet, gate)} ${this.charges(sheet)}
      <p class="caution">Sign-off is a record of what was agreed between you, not legal advice; your own contract and local law come first.</p>
      <countoff-sign-dialog
        .unsent=${this.unsent}
        .signing=${this.signing}
        .newestName=${newest?.name ?? ''}
        @signature=${this.sign}
        @closed=${() => {
          this.signing = null;
        }}
      ></countoff-sign-dialog>
    </div>`;
  }
}
