// How much CPU time of the main thread a frame takes, as the kernel counts it: other programs on the machine lengthen it little.
import {createRequire} from 'node:module';
import {mkdtempSync, readFileSync, rmSync} from 'node:fs';
import {loadavg, tmpdir} from 'node:os';
import {dirname, join} from 'node:path';
import {fileURLToPath} from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const require = createRequire(join(here, '..', 'package.json'));
const {chromium} = require('playwright-core');

/// Bundles `entry`, which leaves functions of a count of frames in globalThis.bench, and measures each `[name, says, frames]`
/// three times; the least is printed, because what else runs can only add to it.
export async function measure(entry, cases) {
  const out = mkdtempSync(join(tmpdir(), 'fuelwright-bench-'));
  await require('esbuild').build({entryPoints: [join(here, entry)], bundle: true, format: 'iife', minify: true, outfile: join(out, 'page.js'),
                                  jsx: 'automatic', jsxImportSource: 'preact', loader: {'.css': 'empty'}});
  const browser = await chromium.launch({executablePath: process.env.FUELWRIGHT_CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox']});
  try {
    const page = await browser.newPage({viewport: {width: 1280, height: 800}});
    page.on('pageerror', (e) => console.error(e.message));
    const devtools = await browser.newBrowserCDPSession();
    await page.setContent('<!doctype html><body style="margin:0"><div id="app"></div></body>');
    await page.addScriptTag({content: readFileSync(join(out, 'page.js'), 'utf8')});
    const taken = async () => {
      const {processInfo} = await devtools.send('SystemInfo.getProcessInfo');
      return processInfo.filter((p) => p.type === 'renderer').reduce((sum, {id}) =>
          sum + Number(readFileSync(`/proc/${id}/task/${id}/schedstat`, 'utf8').split(' ')[0]) / 1e9, 0);
    };
    for (const [name, says, frames] of cases) {
      const run = (n) => page.evaluate(([w, k]) => globalThis.bench[w](k), [name, n]);
      await run(10);  // warm
      const all = [];
      for (let k = 0; k < 3; ++k) {
        const before = await taken();
        await run(frames);
        all.push(((await taken()) - before) / frames * 1000);
      }
      const load = loadavg()[0].toFixed(1);
      console.log(`${says}: ${Math.min(...all).toFixed(1)} ms of CPU a frame (${all.map((a) => a.toFixed(1)).join(', ')}; load ${load})`);
    }
  } finally {
    await browser.close();
    rmSync(out, {recursive: true});
  }
}
