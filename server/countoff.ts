import type { Command } from './commands/command.ts';

/** Every command, loaded only when it is called, so that one needs nothing of the others. */
const commands: Record<string, () => Promise<Command>> = {
  measure: async () => (await import('./commands/measure.ts')).measure,
  ledger: async () => (await import('./commands/ledger.ts')).ledger,
  compare: async () => (await import('./commands/compare.ts')).compare,
  sections: async () => (await import('./commands/sections.ts')).sections,
  stems: async () => (await import('./commands/stems.ts')).stems,
  sort: async () => (await import('./commands/sort.ts')).sort,
  contradictions: async () => (await import('./commands/contradictions.ts')).contradictions,
};

/** The command did not do its work; one line on standard error says why. */
const failed = 2;

async function usage(): Promise<string> {
  const lines = await Promise.all(
    Object.values(commands).map(async (load) => {
      const { name, summary } = await load();
      return `  ${name.padEnd(16)}${summary}`;
    }),
  );
  return ['Usage: countoff COMMAND …', '', ...lines].join('\n');
}

async function main([name, ...args]: string[]): Promise<number> {
  if (name === undefined || name === 'help' || name === '--help') {
    console.log(await usage());
    return name === undefined ? failed : 0;
  }
  const load = Object.hasOwn(commands, name) ? commands[name] : undefined;
  if (!load) throw new Error(`There is no command "${name}". Commands: ${Object.keys(commands).join(', ')}.`);
  const command = await load();
  return (await command.run(args)) ?? 0;
}

try {
  process.exitCode = await main(process.argv.slice(2));
} catch (error) {
  const [line] = (error instanceof Error ? error.message : String(error)).split('\n');
  console.error(`countoff: ${line}`);
  process.exitCode = failed;
}
