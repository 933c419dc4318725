// The worker as it stands in source, for tests and development, where threads don't take over the TypeScript loader.
import { register } from 'tsx/esm/api';

register();
export const {
  intake,
  intakeStem,
  measure,
  compare,
  checkStems,
  compareStems,
  proposeSections,
  renderChange,
  mapChange,
  renderDemo,
} = await import('./worker.ts');
