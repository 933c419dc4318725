import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The folder with the project's package.json, found upwards, so that source and built code agree on it. */
export const projectFolder: string = (() => {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder);
    if (parent === folder) throw new Error('No package.json above the program.');
    folder = parent;
  }
  return folder;
})();
