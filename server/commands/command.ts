/** One command of the command line. */
export interface Command {
  name: string;
  summary: string;
  /**
   * Does the work and writes to standard output; gives the exit code, 0 where it gives none. What is thrown becomes one
   * line on standard error and exit code 2.
   */
  run(args: string[]): Promise<number | undefined>;
}
