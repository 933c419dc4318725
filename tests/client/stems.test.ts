import { describe, expect, it } from 'vitest';
import type { StemChange, StemSection } from '../../client/api/types.ts';
import { doubtWords, stemSentences } from '../../client/features/changed/stem-words.ts';
import { type CheckedStem, stemFault } from '../../client/features/stems/stem-fault.ts';
import { stemNames } from '../../client/features/stems/stem-name.ts';
import { stemSumWords } from '../../client/features/stems/stem-sum-words.ts';

describe('a stem’s name', () => {
  const names = (fileNames: string[], known: string[] = []) =>
    stemNames(fileNames, known).map(({ name, role }) => (role === 'part' ? name : `${name}: ${role}`));

  it('is the file’s without its ending, what all share, and what an export adds', () => {
    expect(
      names(['LW_mix3_01_Lead Vocal.wav', 'LW_mix3_02_BV left.wav', 'LW_mix3_03_Drums_stem.wav']),
    ).toEqual(['Lead Vocal', 'BV left', 'Drums']);
    expect(names(['LW_drums.wav', 'LW_bass.wav', 'LW_keys.wav', 'Strings.wav'])).toEqual([
      'Drums',
      'Bass',
      'Keys',
      'Strings',
    ]);
    expect(names(['bass 48k 24bit.aif', 'keys 48k 24bit.aif'])).toEqual(['Bass', 'Keys']);
    expect(names(['Lead vocal.wav', 'Lead guitar.wav'])).toEqual(['Lead vocal', 'Lead guitar']);
    expect(names(['Kick.wav', 'Kick 2.wav'])).toEqual(['Kick', 'Kick']);
  });

  it('leaves out the song and its version', () => {
    expect(names(['Low Water – Mix v3 – Drums.wav'], ['Low Water', 'Mix v3'])).toEqual(['Drums']);
    // A file that is named by the song alone keeps that.
    expect(names(['Low Water.wav'], ['Low Water'])).toEqual(['Low Water']);
  });

  it('tells alternates of the whole song from parts', () => {
    expect(names(['Instrumental.wav', 'Acapella.wav', 'A cappella.wav', 'TV Track.wav'])).toEqual([
      'Instrumental: instrumental',
      'Acapella: a cappella',
      'A cappella: a cappella',
      'TV Track: TV track',
    ]);
    expect(names(['Clean guitar.wav', 'Clean version.wav'])).toEqual([
      'Clean guitar',
      'Clean version: clean',
    ]);
  });
});

describe('what stands in a stem’s way', () => {
  const print = { sha256: 'print', sampleRateHz: 48_000, durationSeconds: 180 };
  const stem = (
    name: string,
    { sha256 = name, sampleRateHz = 48_000, durationSeconds = 180 } = {},
  ): CheckedStem => ({
    key: name,
    name,
    inspection: {
      sha256,
      durationSeconds,
      format: {
        container: 'wav',
        encoding: 'integer',
        bitDepth: 24,
        channelCount: 2,
        sampleRateHz,
        frameCount: null,
      },
    },
  });
  const fault = (one: CheckedStem, ...others: CheckedStem[]) => stemFault(one, [one, ...others], print);

  it('is said beside it, as the server’s rule has it', () => {
    expect(fault(stem('bass'), stem('drums'))).toBeNull();
    expect(fault(stem(' '))).toContain('no name');
    expect(fault({ ...stem('bass'), key: 'other' }, stem('Bass', { sha256: 'x' }))).toContain('this name');
    expect(fault(stem('bass'), stem('sub', { sha256: 'bass' }))).toContain('the same file');
    expect(fault(stem('bass', { sha256: 'print' }))).toContain('the print itself');
    expect(fault(stem('bass', { sampleRateHz: 44_100 }))).toContain('44100 Hz');
    expect(fault(stem('bass', { durationSeconds: 179.4 }))).toContain('179.4 s');
    expect(fault(stem('bass', { durationSeconds: 179.6 }))).toBeNull();
  });
});

describe('what stems tell', () => {
  const change = (stem: string, reading: StemChange['reading'], gainDb: number | null = 0): StemChange => ({
    stem,
    reading,
    gainDifferenceDb: gainDb,
    matchedGainDifferenceDb: gainDb,
    standardErrorDb: 0.01,
    leftGainDifferenceDb: null,
    rightGainDifferenceDb: null,
    bands: [],
    gainInPrintDb: { a: 0, b: gainDb },
    residualDb: null,
  });
  const section = (name: string, stems: StemChange[], doubt: StemSection['doubt'] = null): StemSection => ({
    name,
    start: 0,
    end: 10,
    doubt,
    unexplainedDb: { a: -90, b: -90 },
    busGainDb: null,
    stems,
    sentence: '',
  });

  it('is said outright, the largest first, and once for several sections', () => {
    const sections = [
      section('Verse 1', [change('Lead vocal', 'no change measured'), change('Bass', 'down', -0.5)]),
      section('Chorus 1', [change('Lead vocal', 'up', 1.1), change('Bass', 'down', -0.5)]),
      section('Chorus 2', [change('Lead vocal', 'up', 1.12), change('Shaker', 'added', null)]),
    ];
    expect(stemSentences(sections)).toEqual([
      'Shaker new in chorus 2.',
      'Lead vocal +1.1 dB in chorus 1 and chorus 2.',
      'Bass −0.5 dB in verse 1 and chorus 1.',
    ]);
    expect(stemSentences([section('Bridge', [change('Bass', 'down', -0.8)])])).toEqual([
      'Bass −0.8 dB in the bridge.',
    ]);
    const bands: StemChange['bands'] = [
      { name: 'low mids', gainDifferenceDb: -2.1 },
      { name: 'mids', gainDifferenceDb: 0.6 },
      { name: 'air', gainDifferenceDb: null },
    ];
    const toned = { ...change('Guitar', 'tone changed', null), bands };
    // The whole mix is 0.5 dB louder, so that the mids stood still beside it.
    expect(stemSentences([section('Verse 1', [toned])], 0.5)).toEqual([
      'Guitar with another tone (low mids −2.6 dB) in verse 1.',
    ]);
    expect(stemSentences([section('Verse 1', [change('Bass', 'too uncertain', null)])])).toEqual([]);
    expect(doubtWords(section('Outro', [], 'too_short'))).toBe('Outro: too short to tell stems apart.');
  });

  it('says whether they sum to the version, with the figure', () => {
    const stems = ['bass', 'drums', 'keys'];
    expect(stemSumWords({ reading: 'rounding', residualDb: -118.2, stems }, 'Mix v3')).toBe(
      'The 3 stems sum to Mix v3: nothing is left but rounding. Left of the print: −118 dB.',
    );
  });
});
