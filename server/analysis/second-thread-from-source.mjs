// The second thread as it stands in source, for tests and development, where threads don't take over the TypeScript loader.
import { register } from 'tsx/esm/api';

register();
export const { readSound, measureShared } = await import('./second-thread.ts');
