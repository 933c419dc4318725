/**
 * The third-octaves in which a part mainly sounds, by nominal frequency: from and to. Two stretches where a part has a
 * body and an attack apart. *Common practice*: ranges as mixing handbooks and instrument charts give them, rounded to
 * third-octaves; the borders are soft, and parts share them.
 */
const partRanges: Record<string, readonly (readonly [lowestHz: number, highestHz: number])[]> = {
  'lead vocal': [[200, 5000]],
  'backing vocals': [[200, 5000]],
  choir: [[160, 5000]],
  whispers: [[1600, 12_500]],
  breaths: [[1600, 12_500]],
  sibilance: [[5000, 10_000]],

  drums: [[40, 16_000]],
  kick: [
    [40, 125],
    [2000, 5000],
  ],
  snare: [
    [160, 500],
    [2000, 10_000],
  ],
  toms: [[63, 400]],
  cymbals: [[2500, 16_000]],
  'hi-hat': [[4000, 16_000]],
  shaker: [[4000, 16_000]],
  tambourine: [[3150, 16_000]],
  claps: [[800, 8000]],
  cowbell: [[500, 5000]],
  congas: [[100, 2500]],
  timpani: [[63, 315]],
  bells: [[800, 12_500]],
  percussion: [[160, 12_500]],

  bass: [[40, 250]],
  'sub bass': [[20, 80]],

  guitar: [[125, 5000]],
  'acoustic guitar': [[125, 8000]],
  banjo: [[160, 6300]],
  harp: [[63, 5000]],
  keys: [[100, 5000]],
  organ: [[63, 5000]],
  synth: [[100, 8000]],
  'synth pad': [[125, 5000]],
  'lead synth': [[250, 8000]],
  accordion: [[160, 5000]],
  strings: [[160, 8000]],
  violin: [[200, 8000]],
  cello: [[63, 2500]],
  brass: [[125, 6300]],
  trumpet: [[160, 8000]],
  trombone: [[80, 4000]],
  saxophone: [[125, 6300]],
  flute: [[250, 8000]],
  bassoon: [[63, 2500]],
  riser: [[500, 16_000]],

  'low end': [[20, 250]],
  'low mids': [[200, 500]],
  mids: [[500, 2000]],
  'high end': [[5000, 20_000]],
  'whole mix': [[20, 20_000]],
};

/** What sounds where another part of the table does, by the canonical names of targets. */
const soundsLike: Record<string, keyof typeof partRanges> = {
  voice: 'lead vocal',
  vocal: 'lead vocal',
  lead: 'lead vocal',
  'ad-lib': 'backing vocals',
  rimshot: 'snare',
  'snare brush': 'snare',
  'ride cymbal': 'cymbals',
  'crash cymbal': 'cymbals',
  overhead: 'cymbals',
  'drum loop': 'drums',
  'drum fill': 'drums',
  beat: 'drums',
  'room mic': 'drums',
  'rhythm section': 'drums',
  'finger snap': 'claps',
  handclap: 'claps',
  maraca: 'shaker',
  guiro: 'shaker',
  triangle: 'bells',
  chime: 'bells',
  glockenspiel: 'bells',
  vibraphone: 'bells',
  celesta: 'bells',
  bongo: 'congas',
  djembe: 'congas',
  cajon: 'percussion',
  'sub drop': 'sub bass',
  tuba: 'bass',
  'pedal steel': 'guitar',
  'lap steel': 'guitar',
  dobro: 'guitar',
  riff: 'guitar',
  ukulele: 'acoustic guitar',
  mandolin: 'banjo',
  piano: 'keys',
  harpsichord: 'keys',
  clavinet: 'keys',
  pluck: 'synth',
  drone: 'synth pad',
  concertina: 'accordion',
  harmonica: 'accordion',
  harmonium: 'accordion',
  melodica: 'accordion',
  orchestra: 'strings',
  fiddle: 'violin',
  viola: 'violin',
  horn: 'brass',
  flugelhorn: 'trumpet',
  sax: 'saxophone',
  clarinet: 'saxophone',
  oboe: 'flute',
  recorder: 'flute',
  whistle: 'flute',
  woodwind: 'flute',
  master: 'whole mix',
  'whole song': 'whole mix',
  instruments: 'whole mix',
};

/** Nominal mid-band frequencies from 20 Hz to 20 kHz. @source IEC 61260-1:2014, Annex E */
const nominalFrequenciesHz = [
  20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
  4000, 5000, 6300, 8000, 10_000, 12_500, 16_000, 20_000,
]; // biome-ignore format: a list of numbers reads as a line

/** Nominal frequencies of third-octaves. */
export type BandSet = ReadonlySet<number>;

/** The third-octaves of a range, both ends included. */
export function bandsIn(lowestHz: number, highestHz: number): BandSet {
  return new Set(nominalFrequenciesHz.filter((hertz) => hertz >= lowestHz && hertz <= highestHz));
}

const singular = (name: string) => name.toLowerCase().replace(/(?<!s)s$/u, '');
const known = new Map<string, keyof typeof partRanges>([
  ...Object.keys(partRanges).map((name): [string, string] => [singular(name), name]),
  ...Object.entries(soundsLike).map(([name, like]): [string, string] => [singular(name), like]),
]);
/** The longer name first, so that a sub bass is no bass. */
const knownNames = [...known.keys()].sort((one, other) => other.length - one.length);

function rangesOf(name: string) {
  const words = singular(name);
  const found =
    known.get(words) ??
    known.get(knownNames.find((each) => new RegExp(`(?:^|[ -])${each}s?(?:$|[ -])`, 'u').test(words)) ?? '');
  return found === undefined ? [] : partRanges[found]!;
}

/**
 * Where a request's target mainly sounds: of `kick and bass` where either does.
 *
 * @param target In the trade's words, as the sorting names it.
 * @returns `null` where no part is named, or one that the table doesn't know.
 */
export function bandsOfPart(target: string | null): BandSet | null {
  const ranges = (target ?? '').split(/ and /u).flatMap(rangesOf);
  return ranges.length > 0
    ? new Set(ranges.flatMap(([lowestHz, highestHz]) => [...bandsIn(lowestHz, highestHz)]))
    : null;
}

const hertzWords = (hertz: number) => (hertz >= 1000 ? `${Math.round(hertz / 10) / 100} kHz` : `${hertz} Hz`);

/** Bands as their stretches: `40 to 125 Hz and 2 to 5 kHz`. */
export function bandWords(bands: BandSet): string {
  const runs: [number, number][] = [];
  for (const [index, hertz] of nominalFrequenciesHz.entries()) {
    if (!bands.has(hertz)) continue;
    const last = runs.at(-1);
    if (last && last[1] === nominalFrequenciesHz[index - 1]) last[1] = hertz;
    else runs.push([hertz, hertz]);
  }
  return runs
    .map(([lowest, highest]) => {
      if (lowest === highest) return hertzWords(lowest);
      const [low, high] = [hertzWords(lowest), hertzWords(highest)];
      return low.slice(-3) === high.slice(-3)
        ? `${low.replace(/ k?Hz$/u, '')} to ${high}`
        : `${low} to ${high}`;
    })
    .join(' and ');
}

/**
 * How a found change's bands lie to those of a part: `inside` where at least half of them are the part's, `wider` where
 * they span most of the part's and twice as much beside, else `beside`.
 */
export function bandsLie(changed: BandSet, part: BandSet): 'inside' | 'wider' | 'beside' {
  const shared = [...changed].filter((hertz) => part.has(hertz)).length;
  if (changed.size > 0 && shared >= changed.size / 2) return 'inside';
  return shared > 0 && shared >= part.size / 2 ? 'wider' : 'beside';
}
