import type { StemChange, StemSection } from './stem-gain.ts';
import type { StemSum } from './stem-sum.ts';

/** A section's stems in one sentence: those that moved, then what can't be told, then the rest. */
export function stemSectionSentence(section: Omit<StemSection, 'sentence'>): string {
  const name = capital(section.name);
  if (section.doubt === 'outside_file') return `${name}: it reaches outside the new version.`;
  if (section.doubt === 'too_short') return `${name}: it is too short to tell stems apart.`;
  const moved: string[] = [];
  const doubtful: string[] = [];
  let calm = 0;
  const size = ({ matchedGainDifferenceDb }: StemChange) => Math.abs(matchedGainDifferenceDb ?? 100);
  for (const change of [...section.stems].sort((one, other) => size(other) - size(one))) {
    if (change.reading === 'silent') continue;
    if (change.reading === 'no change measured') calm++;
    else if (change.reading === 'not told apart' || change.reading === 'too uncertain')
      doubtful.push(change.stem);
    else moved.push(words(change));
  }
  const rest =
    calm === 0
      ? []
      : moved.length > 0
        ? [calm === 1 ? 'the other stem: no change measured' : 'the other stems: no change measured']
        : ['no stem’s gain changed measurably'];
  const untold = doubtful.length > 0 ? [`${doubtful.join(', ')}: can’t be told`] : [];
  const left = Math.max(section.unexplainedDb.a ?? -150, section.unexplainedDb.b ?? -150);
  const doubt =
    section.doubt === 'unexplained'
      ? [
          `the stems leave ${signed(left, 0)} dB of the print unexplained (a bus processor, or something that is not among them), so these are averages`,
        ]
      : [];
  const bus = section.busGainDb ? [busWords(section.busGainDb, left)] : [];
  const all = [...moved, ...rest, ...untold, ...doubt, ...bus];
  return `${name}: ${all.length > 0 ? all.join('; ') : 'no stem sounds in it'}.`;
}

/** What a limiter or compressor does to the section beside the faders. */
function busWords({ a, b }: { a: number; b: number }, unexplainedDb: number): string {
  const more = b - a;
  const does =
    Math.abs(more) < 0.1
      ? `holds it down as before (${signed(b)} dB in the mean)`
      : `holds it ${Math.abs(more).toFixed(1)} dB ${more < 0 ? 'further down' : 'less down'} than before`;
  return `a limiter or compressor on the bus ${does}, which the stems’ gains leave out (${signed(unexplainedDb, 0)} dB unexplained)`;
}

/** Whether stems sum to their print, and what keeps them from it. */
export function stemSumSentence(check: Omit<StemSum, 'sentence'>): string {
  const { stems, reading, residualDb, gainDb, polarity, offsetFrames, mostly } = check;
  const who = stems.length === 2 ? stems.join(' and ') : `the ${stems.length} stems`;
  const level = residualDb === null ? '' : ` to ${signed(residualDb, 0)} dB`;
  const leaving = residualDb === null ? '' : `: ${signed(residualDb, 0)} dB left`;
  const range = mostly ? `, mostly ${hertz(mostly.lowestHz)}–${hertz(mostly.highestHz)}` : '';
  const said: Record<StemSum['reading'], string> = {
    identical: 'sum to the print exactly',
    rounding: `sum to the print${level}: rounding`,
    'dither or word length': `sum to the print${level}: dither or word length`,
    'sample-rate conversion': `sum to the print${level}, as far as sample-rate conversion lets it be told`,
    'lossy encoding': `sum to the print${level}, as far as its lossy encoding lets it be told`,
    'stem gains differ': `sum to the print only at gains of their own: ${gainWords(check)}`,
    'bus dynamics': `don’t sum to the print${leaving}, a limiter or compressor on the bus${range}`,
    'bus processor or missing stem': `don’t sum to the print${leaving}, a bus processor or a missing stem${range}`,
  };
  const placed = [
    Math.abs(gainDb) >= 0.01 ? `the print is ${signed(gainDb, 2)} dB` : null,
    polarity === -1 ? 'the print is upside down' : null,
    offsetFrames !== 0
      ? `the print starts ${Number(Math.abs(offsetFrames).toFixed(2))} frames ${offsetFrames > 0 ? 'later' : 'earlier'}`
      : null,
  ].filter((part) => part !== null);
  return capital(`${[`${who} ${said[reading]}`, ...placed].join('; ')}.`);
}

function gainWords({ stemGains }: Omit<StemSum, 'sentence'>): string {
  return stemGains
    .filter(({ gainDb }) => gainDb !== null && Math.abs(gainDb) >= 0.05)
    .map(({ stem, gainDb }) => `${stem} ${signed(gainDb!)} dB`)
    .join(', ');
}

const hertz = (frequency: number) =>
  frequency >= 1000 ? `${Number((frequency / 1000).toFixed(1))} kHz` : `${frequency} Hz`;

/** `Lead vocal +1.1 dB`. */
function words(change: StemChange): string {
  const { stem, reading, matchedGainDifferenceDb: gainDb } = change;
  const gain = gainDb === null ? '' : ` ${signed(gainDb)} dB`;
  switch (reading) {
    case 'removed':
      return `${stem} is gone`;
    case 'added':
      return `${stem} is new`;
    case 'replaced':
      return `${stem} is not the same as before`;
    case 'polarity turned over':
      return `${stem}${gain}, its polarity turned over`;
    case 'moved in the image':
      return `${stem} moved to the ${towards(change)}${Math.abs(gainDb ?? 0) < 0.1 ? '' : `,${gain}`}`;
    case 'tone changed':
      return `${stem}: its tone changed (${toneWords(change)})`;
    default:
      return `${stem}${gain}${errorWords(change)}`;
  }
}

function towards({ leftGainDifferenceDb, rightGainDifferenceDb }: StemChange): 'left' | 'right' {
  return (rightGainDifferenceDb ?? 0) > (leftGainDifferenceDb ?? 0) ? 'right' : 'left';
}

function toneWords({ bands }: StemChange): string {
  return bands
    .filter(({ gainDifferenceDb }) => gainDifferenceDb !== null)
    .map(({ name, gainDifferenceDb }) => `${name} ${signed(gainDifferenceDb!)} dB`)
    .join(', ');
}

/** Said only where it passes the tenth of a decibel that is shown. */
function errorWords({ standardErrorDb }: StemChange): string {
  return standardErrorDb !== null && standardErrorDb >= 0.05 ? ` ±${standardErrorDb.toFixed(1)}` : '';
}

export const signed = (value: number, digits = 1) =>
  `${Number(value.toFixed(digits)) < 0 ? '−' : '+'}${Math.abs(value).toFixed(digits)}`;

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
