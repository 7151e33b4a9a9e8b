import { defineConfig } from 'vite';

// The page is built into dist/ui, beside the compiled server that serves it. No asset is inlined as a data: URL
// and nothing is loaded from elsewhere, so that the strict content security policy needs no exception.
export default defineConfig({
  root: 'ui',
  base: '/',
  build: { outDir: '../dist/ui', emptyOutDir: true, assetsInlineLimit: 0, sourcemap: false, target: 'es2022' },
});
