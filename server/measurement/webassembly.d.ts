/** The little of WebAssembly's interface that is used here; Node's own types leave it out. */
declare namespace WebAssembly {
  interface Imports {
    [module: string]: Record<string, unknown>;
  }
  interface Exports {
    [name: string]: unknown;
  }
  class Memory {
    readonly buffer: ArrayBuffer;
  }
  class Module {
    constructor(bytes: Uint8Array);
  }
  class Instance {
    constructor(module: Module, imports: Imports);
    readonly exports: Exports;
  }
}
