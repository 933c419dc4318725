import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { describe, expect, it } from 'vitest';

/**
 * Proves that the folders import only what DEVELOPERS.md says they may. A folder that isn't listed may import
 * anything; `types` are imports that vanish when the program is built.
 */
const root = resolve(import.meta.dirname, '..');

interface MayImport {
  folders: string[];
  types?: string[];
  packages: string[];
}

const table: Record<string, MayImport> = {
  'server/domain': { folders: [], packages: ['node:crypto'] },
  'server/triage': { folders: ['server/domain'], packages: ['node:fs'] },
  'server/measurement': {
    folders: [],
    packages: ['@echogarden/pffft-wasm', 'node:fs', 'node:module'],
  },
  'server/audio': {
    folders: ['server/measurement'],
    packages: ['node:', 'mpg123-decoder'],
  },
  'server/storage': {
    folders: ['server/domain', 'server/project-folder.ts'],
    types: ['server/audio', 'server/measurement'],
    packages: ['node:', 'drizzle-orm', '@libsql/client'],
  },
  'server/analysis': {
    folders: ['server/audio', 'server/measurement', 'fixtures/demo'],
    types: ['server/storage'],
    packages: ['node:', 'tinypool', 'pino'],
  },
  'server/application': {
    folders: [
      'server/domain',
      'server/triage',
      'fixtures/demo',
      'server/measurement/comparison-threshold.ts',
      'server/measurement/timeline-position.ts',
    ],
    types: ['server/storage', 'server/analysis', 'server/measurement'],
    packages: ['node:', 'pino'],
  },
  'client/api': { folders: [], types: ['server'], packages: [] },
  'client/player': { folders: ['client/api'], types: ['server'], packages: [] },
  'client/plot': {
    folders: ['client/api', 'client/elements'],
    types: ['server'],
    packages: ['lit', 'uplot'],
  },
  'client/waveform': {
    folders: ['client/api', 'client/player', 'client/elements'],
    types: ['server'],
    packages: ['lit', 'peaks.js', 'konva', 'waveform-data'],
  },
  'client/elements': {
    folders: ['client/api', 'client/player', 'client/navigate.ts', 'client/route.ts'],
    types: ['server'],
    packages: ['lit'],
  },
};

interface Import {
  from: string;
  to: string;
  typesOnly: boolean;
}

function sourceFiles(folder: string): string[] {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && entry.name.endsWith('.ts'))
    .map((entry) => join(entry.parentPath, entry.name));
}

function importsOf(path: string): Import[] {
  const source = readFileSync(path, 'utf8');
  const pattern = /(?:^|\n)\s*(?:import|export)\s+(type\s+)?(?:([^'";]*?)\s+from\s+)?['"]([^'"]+)['"]/g;
  return [...source.matchAll(pattern)].map(([, type, names = '', to = '']) => {
    const listed = /\{([^}]*)\}/.exec(names)?.[1];
    const allTypes =
      listed !== undefined &&
      !names.replace(/\{[^}]*\}/, '').replace(/[,\s]/g, '') &&
      listed
        .split(',')
        .filter((name) => name.trim())
        .every((name) => name.trim().startsWith('type '));
    return {
      from: relative(root, path),
      to: to.startsWith('.') ? relative(root, resolve(dirname(path), to)) : to,
      typesOnly: type !== undefined || allTypes,
    };
  });
}

const within = (path: string, folder: string) => path === folder || path.startsWith(`${folder}/`);

describe('the house', () => {
  for (const [folder, may] of Object.entries(table))
    it(`${folder} imports only what it may`, () => {
      const files = sourceFiles(join(root, folder));
      expect(files.length).toBeGreaterThan(0);
      const strays = files.flatMap(importsOf).filter(({ to, typesOnly }) => {
        const own = within(to, folder) || may.folders.some((each) => within(to, each));
        const asType = typesOnly && (may.types ?? []).some((each) => within(to, each));
        const pkg = may.packages.some(
          (each) => to === each || to.startsWith(each.endsWith(':') ? each : `${each}/`),
        );
        return !own && !asType && !pkg;
      });
      expect(strays.map(({ from, to }) => `${from} → ${to}`)).toEqual([]);
    });

  it('only features import features', () => {
    const others = sourceFiles(join(root, 'client')).filter(
      (path) => !within(relative(root, path), 'client/features'),
    );
    const strays = others
      .flatMap(importsOf)
      .filter(({ to, typesOnly }) => within(to, 'client/features') && !typesOnly);
    expect(strays.map(({ from, to }) => `${from} → ${to}`)).toEqual([]);
  });

  it('has no file of leftovers', () => {
    const files = ['server', 'client', 'fixtures', 'tests'].flatMap((folder) =>
      sourceFiles(join(root, folder)),
    );
    expect(files.filter((path) => /(^|[/-])(utils?|helpers?|misc|common)\.ts$/.test(path))).toEqual([]);
  });
});
