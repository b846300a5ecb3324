// How much CPU time of the main thread a frame takes, as the kernel counts it: other programs on the machine lengthen it little.
import {createRequire} from 'node:module';
import {mkdtempSync, readFileSync, rmSync, writeFileSync} from 'node:fs';
import {createServer} from 'node:http';
import {loadavg, tmpdir} from 'node:os';
import {basename, dirname, extname, join} from 'node:path';
import {fileURLToPath} from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const require = createRequire(join(here, '..', 'package.json'));
const {chromium} = require('playwright-core');

const kTypes = {'.html': 'text/html', '.js': 'text/javascript', '.css': 'text/css', '.woff2': 'font/woff2'};

/// The files of a folder, as a worker and a font need an address.
const serve = (folder) => createServer((request, answer) => {
  const name = basename(request.url);
  try {
    answer.setHeader('Content-Type', kTypes[extname(name)] ?? 'text/plain');
    answer.end(readFileSync(join(folder, name)));
  } catch {
    answer.writeHead(404).end();
  }
});

/// Bundles `entry`, which leaves functions of a count of frames in globalThis.bench, and measures each `[name, says, frames]`
/// three times; the least is printed, because what else runs can only add to it.
export async function measure(entry, cases) {
  const out = mkdtempSync(join(tmpdir(), 'fuelwright-bench-'));
  await require('esbuild').build({entryPoints: {page: join(here, entry), ground_worker: join(here, '../chart/ground_worker.ts'),
                                                css: join(here, '../style/tokens.css')},
                                  bundle: true, format: 'esm', minify: true, outdir: out, jsx: 'automatic', jsxImportSource: 'preact',
                                  loader: {'.woff2': 'file'}});
  writeFileSync(join(out, 'index.html'), '<!doctype html><link rel="stylesheet" href="/css.css"><body style="margin:0"><div id="app"></div>' +
                                         '<script type="module" src="/page.js"></script></body>');
  const server = serve(out);
  const browser = await chromium.launch({executablePath: process.env.FUELWRIGHT_CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox']});
  try {
    const page = await browser.newPage({viewport: {width: 1280, height: 800}});
    page.on('pageerror', (e) => console.error(e.message));
    const devtools = await browser.newBrowserCDPSession();
    await new Promise((go) => server.listen(0, '127.0.0.1', go));
    await page.goto(`http://127.0.0.1:${server.address().port}/index.html`);
    await page.waitForFunction(() => globalThis.bench !== undefined);
    await page.evaluate(() => Promise.all([...document.fonts].map((face) => face.load())));
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
    server.close();
    rmSync(out, {recursive: true});
  }
}
