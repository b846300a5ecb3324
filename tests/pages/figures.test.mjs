// No figure on a page that is not in a reply of the same run.
import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {join} from 'node:path';
import {drive, Ground, kEngines, kPatience, noFaults, predictedJob, root, run, sentence, settled} from './ground.mjs';
import {Held, linesOf, listenTo} from './reply_figures.mjs';

let g, page;
before(async () => {
  g = await Ground.lay();
  const sheet = join(root, 'examples/small_four.toml');
  const job = join(g.folder, 'four.fw');
  run('new', sheet, '-o', job);
  await predictedJob(join(g.folder, 'parts.fw'));
  run('predict', join(g.folder, 'parts.fw'), '--members', String(kEngines));  // of engines that are drawn already: revision 1
  const recording = drive(sheet, join(g.folder, 'town.csv'), 6);
  run('add', job, recording, '--channel', 'AFR=lambda:afr 14.7', '--channel', 'AFR target=target:afr 14.7');
  run('estimate', job);
  run('accept', job);
  run('estimate', job);
  page = await g.tab();
});
after(() => g?.leave());

/// The pages leave to the program how many engines are drawn.
const few = (p) => p.route(/\/(predict|size)$/, (route) => route.continue({
  postData: JSON.stringify({...JSON.parse(route.request().postData() ?? '{}'), members: kEngines})}));

/// Lets every answer to `path` through changed.
async function twist(path, change) {
  await page.route(path, async (route) => {
    const answer = await route.fetch();
    const body = await answer.json();
    change(body);
    await route.fulfill({response: answer, body: JSON.stringify(body)});
  });
}

test('what the table shows is what the reply holds, figure by figure', async () => {
  const stretch = (v) => (v === null ? null : v * 1.0371);
  let sent = null;
  await twist('**/api/v1/jobs/four/chart', (c) => {
    c.sentence = 'The reply says 4711 things.';
    c.in_force = c.in_force.map(stretch);
    c.half_width_95 = c.half_width_95.map(stretch);
    c.seconds = c.seconds.map(stretch);
    c.says = c.says.map((s, k) => `node ${k} of the reply`);
    sent = c;
  });
  await g.open(page, 'four', 'chart/table');
  await page.locator('td[data-node="0"]').waitFor();
  assert.equal(await sentence(page), 'The reply says 4711 things.');
  const shown = () => page.locator('td[data-node]').evaluateAll((cells) =>
      Object.fromEntries(cells.map((c) => [c.dataset.node, c.querySelector('span').textContent.replaceAll(',', '').replace('−', '-')])));
  const same = async (values, factor, digits) => {
    const cells = await shown();
    assert.equal(Object.keys(cells).length, values.length);
    values.forEach((v, k) => assert.equal(cells[k], (v * factor).toFixed(digits), `node ${k}`));
  };
  await same(sent.in_force, sent.factor, 1);
  await page.getByRole('button', {name: '±, %'}).click();
  await same(sent.half_width_95, 100, 1);
  await page.getByRole('button', {name: 'Seconds driven'}).click();
  await same(sent.seconds, 1, 0);
  await page.getByRole('link', {name: 'Chart', exact: true}).last().click();
  await page.locator('.terrain .canvas-hold').focus();
  await page.keyboard.press('Home');
  assert.match(await page.locator('.terrain [aria-live]').textContent(), /^node \d+ of the reply$/);
  await page.unroute('**/api/v1/jobs/four/chart');
});

test('every page opens with the sentence of its reply', async () => {
  const say = (body) => { body.sentence = 'The reply says 4711 things.'; };
  const sayWork = (body) => { if (body.reply) body.reply.sentence = 'The reply says 4711 things.'; };
  const pages = {
    parts: [['**/api/v1/jobs/four/sheet', say]],
    drives: [['**/api/v1/jobs/four/check', sayWork], ['**/api/v1/long-work/*', sayWork]],
  };
  for (const [where, routes] of Object.entries(pages)) {
    for (const [path, change] of routes) await twist(path, change);
    await g.open(page, 'four', where);
    await page.waitForFunction(() => document.querySelector('#answer')?.textContent === 'The reply says 4711 things.', null, {timeout: kPatience});
    for (const [path] of routes) await page.unroute(path);
  }
});

test('every figure in words and tables stands in a reply that the page got', async () => {
  const places = [['four', 'parts'], ['four', 'key-on'], ['four', 'drives'], ['four', 'chart'], ['four', 'chart/table'], ['four', 'chart/surface'],
                  ['parts', 'supply'], ['parts', 'first-tables'], ['parts', 'chart'], [null, null]];
  for (const [job, where] of places) {
    const tab = await g.tab();
    await few(tab);
    const replies = listenTo(tab);
    await g.open(tab, job, where);
    await settled(tab);
    await tab.evaluate(() => document.querySelectorAll('main details').forEach((d) => (d.open = true)));
    const lines = await linesOf(tab);
    const held = new Held(await replies());
    assert.ok(lines.length > 5, `${job} ${where}`);
    assert.deepEqual(held.missing(lines), [], `${job} ${where}`);
    noFaults(tab);
    await tab.context().close();
  }
});

test('a figure that no reply holds is found out', async () => {
  const tab = await g.tab();
  const replies = listenTo(tab);
  await g.open(tab, 'four', 'chart');
  await settled(tab);
  await tab.evaluate(() => (document.querySelector('#answer').textContent = 'VE is known to 7.3137 %, at 48,123.7 rpm.'));
  const found = new Held(await replies()).missing(await linesOf(tab));
  assert.equal(found.length, 2, found.join('; '));
  await tab.context().close();
});

test('one part changed on the sheet changes sentence, chart and table', async () => {
  const cam = /exhaust duration at 0\.050 in/;
  const look = async () => {
    await g.open(page, 'parts', 'chart');
    await page.locator('.terrain canvas').waitFor();
    await settled(page);
    const says = await page.locator('main').evaluate((m) => [...m.querySelectorAll('#answer, .note, .under')].map((e) => e.textContent).join(' '));
    const picture = await page.locator('.terrain canvas').evaluate((c) => c.toDataURL());
    await g.open(page, 'parts', 'chart/table');
    await page.getByRole('button', {name: 'Estimate', exact: true}).click();
    const table = await page.locator('td[data-node] > span:not(.hidden)').allTextContents();
    return {says, picture, table};
  };
  const before = await look();
  await g.open(page, 'parts', 'parts');
  const known = await sentence(page);
  await page.locator('button.line').filter({hasText: cam}).first().click();
  await page.locator('.editor input').fill('216 deg +- 2 deg');
  await page.getByRole('button', {name: 'measured on this car'}).click();
  await page.getByRole('button', {name: 'Put it on the sheet'}).click();
  await page.locator('button.line').filter({hasText: cam}).filter({hasText: /216/}).filter({hasText: 'measured'}).waitFor();
  await page.waitForFunction((was) => document.querySelector('#answer').textContent.trim() !== was, known);
  const now = await look();
  assert.notEqual(now.says, before.says);
  assert.notEqual(now.picture, before.picture);
  const moved = now.table.filter((t, k) => t !== before.table[k]).length;
  assert.ok(moved > now.table.length / 4, `${moved} of ${now.table.length} figures moved`);
  // What is shown is what the program answers now.
  const chart = await g.get('/jobs/parts/chart');
  assert.equal(chart.basis, 'parts');
  assert.ok(chart.stale.length > 0);
  for (const w of chart.stale) assert.ok(now.says.includes(w), w);
  noFaults(page);
});

test('a chart painted beside the page is the one painted in it', async () => {
  const tab = await g.tab({colorScheme: 'light'});
  await g.open(tab, 'four', 'chart');
  await settled(tab);
  await tab.evaluate(() => document.fonts.ready.then(() => undefined));
  const pixels = () => tab.locator('.terrain canvas').evaluate((c) => Array.from(
      new Uint32Array(c.getContext('2d').getImageData(0, 0, c.width, c.height).data.buffer)));
  const apart = (a, b) => a.filter((p, k) => p !== b[k]).length / a.length;
  const first = await pixels();
  // The first painting is the page's own, these two are the worker's.
  await tab.emulateMedia({colorScheme: 'dark'});
  let dark = first;
  for (let tries = 0; apart(dark, first) < 0.5 && tries < 100; ++tries) dark = await pixels();
  assert.equal(tab.workers().length, 1);
  assert.ok(apart(dark, first) > 0.5);
  await tab.emulateMedia({colorScheme: 'light'});
  let again = dark;
  for (let tries = 0; apart(again, first) > 0.001 && tries < 100; ++tries) again = await pixels();
  assert.ok(apart(again, first) <= 0.001, `${apart(again, first)} of the pixels differ`);
  noFaults(tab);
  await tab.context().close();
});
