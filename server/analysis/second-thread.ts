// What a second thread takes off a comparison's hands: samples lie in memory that both share.
export { measureShared } from '../measurement/comparison.ts';
export { readSound } from './read-sound.ts';
