// Builds the pages: node build.mjs [OUT_FOLDER] (default dist/). Nothing is fetched; node_modules comes from `npm ci`.
import {createRequire} from 'node:module';
import {copyFileSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync} from 'node:fs';
import {dirname, join, resolve} from 'node:path';
import {fileURLToPath} from 'node:url';
import {gzipSync} from 'node:zlib';
import {licencesOf} from './licences.mjs';

const here = dirname(fileURLToPath(import.meta.url));
const out = resolve(process.argv[2] ?? join(here, 'dist'));
const require = createRequire(import.meta.url);

let esbuild;
try {
  esbuild = require('esbuild');
} catch {
  console.error('web: esbuild is not there: run tools/pages, which installs what web/package-lock.json names');
  process.exit(1);
}

mkdirSync(out, {recursive: true});
for (const name of readdirSync(out)) rmSync(join(out, name), {recursive: true});
let built;
try {
  built = await esbuild.build({
    absWorkingDir: here,
    entryPoints: {app: 'main.tsx', ground_worker: 'chart/ground_worker.ts'},
    bundle: true,
    format: 'esm',
    minify: true,
    target: ['es2022', 'chrome105', 'firefox110', 'safari16'],
    jsx: 'automatic',
    jsxImportSource: 'preact',
    loader: {'.woff2': 'file'},
    assetNames: '[name]-[hash]',
    outdir: out,
    logLevel: 'warning',
    legalComments: 'none',  // all of it stands in licences.txt
    metafile: true,
  });
} catch {
  process.exit(1);  // esbuild has said why
}
copyFileSync(join(here, 'index.html'), join(out, 'index.html'));
try {
  writeFileSync(join(out, 'licences.txt'), licencesOf(built.metafile, here));
} catch (e) {
  console.error(`web: ${e.message}`);
  process.exit(1);
}

let bytes = 0;
for (const name of readdirSync(out)) {
  const raw = readFileSync(join(out, name));
  bytes += name.endsWith('.woff2') ? raw.length : gzipSync(raw, {level: 9}).length;
}
const most = 400_000;
if (bytes > most) {
  console.error(`web: ${bytes} bytes compressed, at most ${most}`);
  process.exit(1);
}
if (process.argv.includes('--say')) console.log(`${bytes} bytes compressed`);
