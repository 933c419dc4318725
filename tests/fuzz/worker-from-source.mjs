// A worker's own start: TypeScript is read as it is, as the main thread does.
import { register } from 'tsx/esm/api';

register();
await import('./measure-in-worker.ts');
