import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

// Where the station's own server listens while the pages are being worked on; `npm run mock` listens there too.
const station = process.env['GUARDROW_STATION'] ?? 'http://127.0.0.1:4747';
// The station answers only to its own name and port, so that the request must name those and not the development server's.
const toStation = { target: station, changeOrigin: true };

export default defineConfig({
  plugins: [svelte()],
  build: {
    target: 'es2022',
    // Everything is served by the station itself; a font inlined into the style sheet would be fetched on every page.
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 600,
  },
  server: { proxy: { '/api': toStation, '/publications': toStation } },
});
