// How much CPU time of the main thread a redraw takes: a chart of 32 by 32 nodes with 4,000 points of track, and a pan over
// traces of 1e6 samples by 8 channels as the server reduces them. Run: node web/bench/redraw.mjs  (needs chromium)
import {createRequire} from 'node:module';
import {mkdtempSync, readFileSync, rmSync} from 'node:fs';
import {tmpdir} from 'node:os';
import {dirname, join} from 'node:path';
import {fileURLToPath} from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const require = createRequire(join(here, '..', 'package.json'));
const {chromium} = require('playwright-core');
const out = mkdtempSync(join(tmpdir(), 'fuelwright-bench-'));
await require('esbuild').build({entryPoints: [join(here, 'redraw_page.ts')], bundle: true, format: 'iife', minify: true,
                                outfile: join(out, 'page.js'), jsx: 'automatic', jsxImportSource: 'preact', loader: {'.css': 'empty'}});

const browser = await chromium.launch({executablePath: process.env.FUELWRIGHT_CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox']});
const page = await browser.newPage({viewport: {width: 1280, height: 800}});
const devtools = await browser.newBrowserCDPSession();
await page.setContent('<!doctype html><body style="margin:0"></body>');
await page.addScriptTag({content: readFileSync(join(out, 'page.js'), 'utf8')});

// Seconds of CPU that the main thread of every renderer has taken, as the kernel counts them (ticks of 10 ms).
async function taken() {
  const {processInfo} = await devtools.send('SystemInfo.getProcessInfo');
  return processInfo.filter((p) => p.type === 'renderer').reduce((sum, {id}) => {
    const fields = readFileSync(`/proc/${id}/task/${id}/stat`, 'utf8').split(') ')[1].split(' ');
    return sum + (Number(fields[11]) + Number(fields[12])) / 100;
  }, 0);
}

async function cpu(what, frames) {
  await page.evaluate(([w]) => globalThis.bench[w](40), [what]);  // warm
  const before = await taken();
  await page.evaluate(([w, n]) => globalThis.bench[w](n), [what, frames]);
  return ((await taken()) - before) / frames * 1000;
}

for (const [what, says] of [['chart', 'redraw of a chart of 32 x 32 nodes'], ['pan', 'pan over 1e6 samples x 8 channels']]) {
  console.log(`${says}: ${(await cpu(what, 120)).toFixed(1)} ms of CPU a frame`);
}
await browser.close();
rmSync(out, {recursive: true});
