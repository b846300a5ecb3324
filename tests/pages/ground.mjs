// The ground that the browser tests stand on: a folder, the program serving it, a browser, and words for what a person does.
import assert from 'node:assert/strict';
import {spawn, spawnSync} from 'node:child_process';
import {createHash} from 'node:crypto';
import {copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, renameSync, rmSync} from 'node:fs';
import {createServer} from 'node:net';
import {createRequire} from 'node:module';
import {tmpdir} from 'node:os';
import {dirname, join} from 'node:path';
import {fileURLToPath} from 'node:url';

export const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
const require = createRequire(join(root, 'web', 'package.json'));
const {chromium} = require('playwright-core');
export const axeSource = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

const program = process.env.FUELWRIGHT_PROGRAM ?? join(root, 'build/release/apps/fuelwright/fuelwright');
/// Two cores may be shared with others: patience costs nothing where it is not needed.
export const kPatience = Number(process.env.FUELWRIGHT_PATIENCE ?? 120_000);

/// Runs a command of the program; its output.
export function run(...args) {
  const done = spawnSync(program, args, {encoding: 'utf8', env: {...process.env, FUELWRIGHT_USER: 'Kim'}});
  assert.equal(done.status, 0, `fuelwright ${args.join(' ')}: ${done.stderr}`);
  return done.stdout;
}

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1');
  await new Promise((go) => server.once('listening', go));
  const {port} = server.address();
  await new Promise((go) => server.close(go));
  return port;
}

/// A job of the invented small car with its prediction but no tables of it, as few engines as may be drawn. Drawing them takes a minute of two cores, so
/// the files of tests share it: it is made once for every build of the program and kept with temporary files.
export const kEngines = 16;
export async function predictedJob(to) {
  const kept = join(tmpdir(), `fuelwright-pages-${createHash('sha256').update(readFileSync(program)).digest('hex').slice(0, 16)}`);
  const file = join(kept, 'predicted.fw');
  mkdirSync(kept, {recursive: true});
  for (let waited = 0; !existsSync(file); waited += 500) {
    let mine = false;
    try {
      mkdirSync(join(kept, 'at-work'));
      mine = true;
    } catch {
      // Another file of tests is at it; if it was cut off, it is done here after all.
      mine = waited > 2 * kPatience;
    }
    if (!mine) {
      await new Promise((go) => setTimeout(go, 500));
      continue;
    }
    const own = join(mkdtempSync(join(kept, 'made-')), 'predicted.fw');
    run('new', join(root, 'examples/small_four.toml'), '-o', own);
    run('predict', own, '--members', String(kEngines), '--look');
    renameSync(own, file);
  }
  copyFileSync(file, to);
}

const WORK = '/long-work';

export class Ground {
  static async lay() {
    const g = new Ground();
    g.folder = mkdtempSync(join(tmpdir(), 'fuelwright-pages-'));
    g.profile = mkdtempSync(join(tmpdir(), 'fuelwright-profile-'));
    g.port = await freePort();
    await g.serve();
    g.browser = await chromium.launch({
      executablePath: process.env.FUELWRIGHT_CHROMIUM ?? '/usr/bin/chromium',
      args: ['--no-sandbox', '--disable-background-networking', '--no-first-run', `--crash-dumps-dir=${g.profile}`],
      chromiumSandbox: false,
      timeout: kPatience,
    });
    return g;
  }

  get address() { return `http://127.0.0.1:${this.port}`; }

  async serve() {
    this.server = spawn(program, ['serve', this.folder, '--port', String(this.port)],
                        {stdio: ['ignore', 'pipe', 'pipe'], env: {...process.env, FUELWRIGHT_USER: 'Kim'}});
    let said = '';
    this.server.stderr.on('data', (d) => (said += d));
    this.server.stdout.on('data', (d) => (said += d));
    for (let k = 0; k < 600; ++k) {
      try {
        if ((await fetch(`${this.address}/api/v1/session`)).ok) return;
      } catch {
        // Not yet.
      }
      assert.equal(this.server.exitCode, null, `the server ended: ${said}`);
      await new Promise((go) => setTimeout(go, 50));
    }
    assert.fail(`the server does not answer: ${said}`);
  }

  /// As a power cut or a person would: at once, or politely.
  async stop(signal = 'SIGTERM') {
    if (this.server.exitCode !== null) return;
    const gone = new Promise((go) => this.server.once('exit', go));
    this.server.kill(signal);
    await gone;
  }

  async leave() {
    await this.browser?.close();
    await this.stop('SIGKILL');
    rmSync(this.folder, {recursive: true, force: true});
    rmSync(this.profile, {recursive: true, force: true});
  }

  /// A tab; errors of the page fail the test that opened it.
  async tab(options = {}) {
    const context = await this.browser.newContext({
      viewport: {width: 1280, height: 800}, acceptDownloads: true, permissions: ['clipboard-read', 'clipboard-write'], ...options,
    });
    if (process.env.FUELWRIGHT_DIST) await pagesFrom(context, process.env.FUELWRIGHT_DIST);
    const page = await context.newPage();
    page.setDefaultTimeout(kPatience);
    page.faults = [];
    page.on('pageerror', (e) => page.faults.push(e.message));
    return page;
  }

  open(page, job, where) {
    return page.goto(`${this.address}/#/${job ? `${encodeURIComponent(job)}/${where}` : ''}`);
  }

  async post(path, body) {
    const {token} = await (await fetch(`${this.address}/api/v1/session`)).json();
    const answer = await fetch(`${this.address}/api/v1${path}`, {
      method: 'POST', headers: {'X-Fuelwright-Token': token, 'Content-Type': 'application/json'}, body: JSON.stringify(body)});
    return {status: answer.status, body: await answer.json()};
  }

  async get(path) {
    const ask = () => fetch(`${this.address}/api/v1${path}`);
    // A connection that was kept open may be closed by the server at the moment it is taken up again.
    return (await ask().catch(ask)).json();
  }

  /// Work to its end.
  async work(job, what, body) {
    let {body: item} = await this.post(`/jobs/${job}/${what}`, body);
    while (['waiting', 'running', 'stopping'].includes(item.state)) item = await this.get(`${WORK}/${item.id}?wait=10`);
    assert.equal(item.state, 'done', JSON.stringify(item.error));
    return item.reply;
  }
}

/// Pages that are being worked on, in the place of those that the program carries.
async function pagesFrom(context, folder) {
  await context.route((url) => !url.pathname.startsWith('/api/'), (route) => {
    const {pathname} = new URL(route.request().url());
    return route.fulfill({path: join(folder, pathname === '/' ? 'index.html' : pathname)});
  });
}

export const answer = (page) => page.locator('#answer');

/// Waits until the sentence of a page has words, and returns it.
export async function sentence(page) {
  await page.waitForFunction(() => (document.querySelector('#answer')?.textContent ?? '').trim().length > 3, null, {timeout: kPatience});
  return (await answer(page).textContent()).trim();
}

/// Waits until nothing is being asked or worked out any more, and returns the sentence of the page.
export async function settled(page) {
  await page.waitForFunction(() => document.documentElement.dataset.asking === undefined && document.querySelector('.progress') === null &&
      (document.querySelector('#answer')?.textContent ?? '').trim().length > 3, null, {timeout: 2 * kPatience});
  return sentence(page);
}

export function noFaults(page) {
  assert.deepEqual(page.faults, []);
}

/// The five answers of the invented small car.
export const kSmallFour = ['1.229 l', '4', '200', '150 cc/min at 3 bar', 'E10'];

export async function answerFive(page, name, answers = kSmallFour) {
  await page.getByLabel('What the job is called').fill(name);
  const asks = page.locator('label.ask:has(.question) input');
  await asks.first().waitFor();
  for (let k = 0; k < answers.length; ++k) await asks.nth(k).fill(answers[k]);
}

/// A drive of the virtual car with the parts of a sheet.
export function drive(sheet, out, minutes = 9) {
  run('car', sheet, '--cycle', join(root, 'examples/cycles/town.csv'), '--minutes', String(minutes), '-o', out);
  return out;
}
