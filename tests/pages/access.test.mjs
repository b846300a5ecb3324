// Everybody can work with it: axe on every page, light and dark; keyboard; sizes; touch targets.
import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {join} from 'node:path';
import {axeSource, drive, Ground, kEngines, noFaults, predictedJob, root, run, settled} from './ground.mjs';

let g;
const kPlaces = ['parts', 'supply', 'first-tables', 'key-on', 'drives', 'chart', 'chart/table', 'chart/surface'];
before(async () => {
  g = await Ground.lay();
  const job = join(g.folder, 'four.fw');
  await predictedJob(job);
  const recording = drive(join(root, 'examples/small_four.toml'), join(g.folder, 'town.csv'), 6);
  run('add', job, recording, '--channel', 'AFR=lambda:afr 14.7', '--channel', 'AFR target=target:afr 14.7');
  run('estimate', job);
});
after(() => g?.leave());

/// The pages leave to the program how many engines are drawn; this test needs few.
async function few(page) {
  await page.route(/\/(predict|size)$/, (route) => route.continue({
    postData: JSON.stringify({...JSON.parse(route.request().postData() ?? '{}'), members: kEngines})}));
  return page;
}

for (const scheme of ['light', 'dark']) {
  test(`axe finds nothing serious on any page, ${scheme}`, async () => {
    const page = await few(await g.tab({colorScheme: scheme}));
    for (const where of [null, ...kPlaces]) {
      await (where === null ? g.open(page, null) : g.open(page, 'four', where));
      await settled(page);
      await page.evaluate(axeSource);
      const found = await page.evaluate(() => globalThis.axe.run(document, {resultTypes: ['violations']}));
      const serious = found.violations.filter((v) => v.impact === 'serious' || v.impact === 'critical')
          .map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join(' | ')}`);
      assert.deepEqual(serious, [], `${where ?? 'jobs'}, ${scheme}`);
    }
    noFaults(page);
    await page.context().close();
  });
}

test('no page is wider than its screen, at the bench and on a tablet held either way', async () => {
  for (const size of [{width: 1280, height: 800}, {width: 800, height: 1280}, {width: 1920, height: 1080}]) {
    const page = await few(await g.tab({viewport: size}));
    for (const where of kPlaces) {
      await g.open(page, 'four', where);
      await settled(page);
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(over <= 0, `${where} at ${size.width}: ${over} px too wide`);
    }
    await page.context().close();
  }
});

test('under a finger everything that can be pressed is at least 44 px high', async () => {
  const page = await few(await g.tab({hasTouch: true, isMobile: true, viewport: {width: 1280, height: 800}}));
  for (const where of kPlaces) {
    await g.open(page, 'four', where);
    await settled(page);
    const small = await page.evaluate(() => [...document.querySelectorAll('button, a.button, summary, select, .tabs a, nav a, input[type=text]')]
        .filter((e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== 'hidden' && !e.closest('.hidden'))
        .map((e) => ({what: e.textContent.trim().slice(0, 30), height: e.getBoundingClientRect().height}))
        .filter((e) => e.height < 43.5));
    assert.deepEqual(small, [], where);
  }
  await page.context().close();
});

test('the whole rail, the chart and the table are worked with keys alone', async () => {
  const page = await few(await g.tab());
  await g.open(page, 'four', 'chart');
  await settled(page);
  await page.keyboard.press('Tab');
  assert.match(await page.evaluate(() => document.activeElement.textContent), /To the page/);
  await page.keyboard.press('Enter');
  await page.locator('.terrain .canvas-hold').focus();
  const before = await page.locator('.section figcaption').textContent();
  await page.keyboard.press('ArrowUp');
  await page.keyboard.press('ArrowUp');
  await page.keyboard.press('ArrowUp');
  await page.keyboard.press('Enter');
  await page.waitForFunction((b) => document.querySelector('.section figcaption').textContent !== b, before);
  await g.open(page, 'four', 'chart/table');
  await page.locator('td[tabindex="0"]').focus();
  for (const k of ['ArrowRight', 'ArrowDown', 'Shift+ArrowRight', 'Shift+ArrowDown']) await page.keyboard.press(k);
  assert.equal(await page.locator('td[aria-selected=true]').count(), 4);
  await page.keyboard.press('Control+a');
  const all = await page.locator('td[data-node]').count();
  assert.equal(await page.locator('td[aria-selected=true]').count(), all);
  await page.keyboard.press('Escape');
  await page.keyboard.press('F2');
  await page.keyboard.press('Escape');
  assert.equal(await page.locator('td.changed').count(), 0);
  noFaults(page);
  await page.context().close();
});

test('the foot of every page leads to the licences of what the pages carry, the font among them', async () => {
  const page = await g.tab();
  await g.open(page, 'four', 'parts');
  await settled(page);
  const link = page.getByRole('contentinfo').getByRole('link', {name: /Licences/});
  const text = await (await fetch(`${g.address}${await link.getAttribute('href')}`)).text();
  // The font's licence (condition 2) and the MIT licence ask that their text and the copyright line come along.
  for (const part of ['ysabeau-office', 'SIL OPEN FONT LICENSE Version 1.1', 'The Ysabeau Project Authors', 'preact', 'uplot',
                      'The above copyright notice and this permission notice shall be included']) assert.ok(text.includes(part), part);
  await page.context().close();
});

test('what the first page needs is less than 400 kB', async () => {
  const page = await g.tab();
  await g.open(page, 'four', 'parts');
  await settled(page);
  await page.reload();
  const bytes = await page.evaluate(() => performance.getEntriesByType('resource').filter((r) => !r.name.includes('/api/'))
      .reduce((a, r) => a + r.encodedBodySize, 0));
  // A count, not a time: what must come before the first page stays small.
  assert.ok(bytes < 400_000, `${bytes} bytes`);
  await page.context().close();
});
