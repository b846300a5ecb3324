// No figure on a page that is not in a reply of the same run.
import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {join} from 'node:path';
import {drive, Ground, kPatience, noFaults, root, run, sentence} from './ground.mjs';

let g, page;
before(async () => {
  g = await Ground.lay();
  const job = join(g.folder, 'four.fw');
  run('new', join(root, 'examples/small_four.toml'), '-o', job);
  const recording = drive(join(root, 'examples/small_four.toml'), join(g.folder, 'town.csv'), 6);
  run('add', job, recording, '--channel', 'AFR=lambda:afr 14.7', '--channel', 'AFR target=target:afr 14.7');
  run('estimate', job);
  run('accept', job);
  run('estimate', job);
  page = await g.tab();
});
after(() => g?.leave());

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
    drives: [['**/api/v1/jobs/four/check', sayWork], ['**/api/v1/work/*', sayWork]],
  };
  for (const [where, routes] of Object.entries(pages)) {
    for (const [path, change] of routes) await twist(path, change);
    await g.open(page, 'four', where);
    await page.waitForFunction(() => document.querySelector('#answer')?.textContent === 'The reply says 4711 things.', null, {timeout: kPatience});
    for (const [path] of routes) await page.unroute(path);
  }
});

test('one part changed on the sheet changes sentence, chart and table', async () => {
  // As few engines as may be drawn: this is about pages, not about how well the prediction is known.
  await page.route('**/predict', (route) => route.continue({
    postData: JSON.stringify({...JSON.parse(route.request().postData() ?? '{}'), members: 16})}));
  const look = async () => {
    await g.open(page, 'four', 'first-tables');
    await page.locator('.terrain canvas').waitFor({timeout: 2 * kPatience});
    await page.getByText('At full throttle').waitFor();
    const says = await sentence(page);
    await page.getByRole('button', {name: 'VE', exact: true}).waitFor();
    await page.waitForTimeout(300);
    const picture = (await page.locator('.terrain canvas').screenshot()).toString('base64');
    await page.getByText('The same as figures').click();
    const table = await page.getByRole('region', {name: 'Full throttle as figures'}).textContent();
    return {says, picture, table};
  };
  const before = await look();
  await g.open(page, 'four', 'parts');
  await page.getByRole('button', {name: /^1?all cylinders together/}).click();
  await page.getByLabel('all cylinders together').fill('1.6 l');
  await page.getByRole('button', {name: 'Put it on the sheet'}).click();
  await page.getByRole('button', {name: /Displacement.*1[.,]6/}).waitFor();
  const now = await look();
  assert.notEqual(now.says, before.says);
  assert.notEqual(now.picture, before.picture);
  assert.notEqual(now.table, before.table);
  noFaults(page);
});
