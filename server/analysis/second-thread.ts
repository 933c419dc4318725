import { readWhole } from '../audio/open-audio.ts';
import { measureShared, type SharedSound } from '../measurement/comparison.ts';

/** What a second thread takes off a comparison's hands: samples lie in memory that both share. */
export const readFile = (path: string) => readWhole(path);

export const measure = (sound: SharedSound) => measureShared(sound);
