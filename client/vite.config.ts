import { defineConfig } from 'vite';

const serverUrl = `http://127.0.0.1:${process.env.COUNTOFF_PORT ?? 4440}`;

export default defineConfig({
  build: {
    outDir: '../dist/client',
    emptyOutDir: true,
    target: 'es2022',
    // The pages' content security policy takes no data: addresses.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
  // The calls of the pages stand in a folder of that name, and are no calls themselves.
  server: { host: '127.0.0.1', proxy: { '^/api/(?!.*\\.ts(\\?|$))': { target: serverUrl } } },
});
