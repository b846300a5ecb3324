// What goes wrong is said in words, and nothing is lost: wrong files, a huge file, two tabs, a restart in the middle.
import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {closeSync, ftruncateSync, openSync, writeFileSync, writeSync} from 'node:fs';
import {join} from 'node:path';
import {answerFive, drive, Ground, kPatience, noFaults, root, run, sentence} from './ground.mjs';

let g, page;
before(async () => {
  g = await Ground.lay();
  run('new', join(root, 'examples/small_four.toml'), '-o', join(g.folder, 'four.fw'));
  page = await g.tab();
});
after(() => g?.leave());

test('a job with a name that is taken is refused in words, and the answers stay', async () => {
  await g.open(page, null);
  await answerFive(page, 'four');
  await page.getByRole('button', {name: 'Begin the job'}).click();
  await page.getByRole('alert').first().waitFor();
  assert.match(await page.getByRole('alert').first().textContent(), /four/);
  await page.reload();
  await page.locator('label.ask:has(.question) input').first().waitFor();
  assert.equal(await page.locator('label.ask:has(.question) input').first().inputValue(), '1.229 l');
});

test('a job that does not exist is said, with a way back', async () => {
  await g.open(page, 'nowhere', 'chart');
  await page.getByRole('alert').waitFor();
  await page.getByRole('main').getByRole('link', {name: 'All jobs'}).waitFor();
});

test('a file that is no recording is said to be none, and can be thrown away', async () => {
  await g.open(page, 'four', 'drives');
  const wrong = join(g.folder, 'holiday.csv');
  writeFileSync(wrong, Buffer.from([0xff, 0xd8, 0xff, 0xe0, ...Array.from({length: 4000}, (_, k) => (k * 7919) % 256)]));
  await page.locator('input[type=file]').setInputFiles(wrong);
  const card = page.getByRole('article', {name: 'holiday.csv'});
  await card.getByRole('alert').waitFor();
  assert.ok((await card.getByRole('alert').textContent()).length > 20);
  assert.ok(await card.getByRole('button', {name: 'Add to the job'}).isDisabled());
  await card.getByRole('button', {name: 'Throw it away'}).click();
  await card.waitFor({state: 'detached'});
  noFaults(page);
});

test('an empty file is said to be empty', async () => {
  const empty = join(g.folder, 'empty.csv');
  writeFileSync(empty, '');
  await page.locator('input[type=file]').setInputFiles(empty);
  await page.getByRole('alert').first().waitFor();
  assert.match(await page.getByRole('alert').first().textContent(), /\w{4,}/);
  for (const b of await page.getByRole('button', {name: 'Throw it away'}).all()) await b.click();
  await page.getByRole('button', {name: 'Throw it away'}).first().waitFor({state: 'detached'});
});

test('300 MB are taken in without the page freezing; more than can be taken is refused before it is sent', async () => {
  const huge = join(g.folder, 'huge.csv');
  const file = openSync(huge, 'w');
  // A log of one channel in 300 MB: written in blocks, the same million rows again and again with other times is not needed to be
  // read as sense; it must be looked at and answered.
  const block = Buffer.from(Array.from({length: 40000}, (_, k) => `${(k * 0.01).toFixed(2)},${800 + (k % 400)}\n`).join(''));
  writeSync(file, 'Time (s),RPM\n');
  for (let bytes = 0; bytes < 300 * 1048576; bytes += block.length) writeSync(file, block);
  closeSync(file);
  await page.locator('input[type=file]').setInputFiles(huge);
  const card = page.getByRole('article', {name: 'huge.csv'});
  // While it is sent the page answers.
  await page.getByRole('link', {name: 'Parts'}).click();
  await sentence(page);
  await page.getByRole('link', {name: 'Drives'}).click();
  await card.waitFor({timeout: 2 * kPatience});
  await card.getByRole('button', {name: 'Throw it away'}).click();
  await card.waitFor({state: 'detached', timeout: kPatience});

  const over = join(g.folder, 'over.csv');
  const sparse = openSync(over, 'w');
  ftruncateSync(sparse, 700 * 1048576);
  closeSync(sparse);
  await page.locator('input[type=file]').setInputFiles(over);
  await page.getByRole('alert').filter({hasText: '512 MB'}).waitFor();
  noFaults(page);
});

test('two tabs: the second is told of what the first did, and loses nothing', async () => {
  const recording = drive(join(root, 'examples/small_four.toml'), join(g.folder, 'town.csv'), 6);
  run('add', join(g.folder, 'four.fw'), recording, '--channel', 'AFR=lambda:afr 14.7', '--channel', 'AFR target=target:afr 14.7');
  run('estimate', join(g.folder, 'four.fw'));
  run('accept', join(g.folder, 'four.fw'));
  const other = await g.tab();
  await g.open(page, 'four', 'chart/table');
  await g.open(other, 'four', 'chart/table');
  await page.locator('td[data-node="5"]').click();
  await page.keyboard.type('77.7');
  await page.keyboard.press('Enter');
  await page.locator('td.changed').first().waitFor();
  // The other tab keeps something of its own meanwhile.
  await other.locator('td[data-node="9"]').click();
  await other.keyboard.type('66.6');
  await other.keyboard.press('Enter');
  await other.getByLabel('Reason, kept in the journal').fill('the other tab');
  await other.getByRole('button', {name: 'Keep amendments'}).click();
  await other.waitForFunction(() => document.querySelectorAll('td.changed').length === 0);
  // The first tab hears of it: node 9 is the other's, its own amendment is still there on top of the new revision.
  await page.waitForFunction(() => document.querySelector('td[data-node="9"]').textContent.includes('66.6'));
  assert.match(await page.locator('td[data-node="5"]').textContent(), /77\.7/);
  await page.getByLabel('Reason, kept in the journal').fill('the first tab');
  await page.getByRole('button', {name: 'Keep amendments'}).click();
  await page.waitForFunction(() => document.querySelectorAll('td.changed').length === 0);
  const {in_force: table} = await g.get('/jobs/four/chart');
  assert.ok(Math.abs(table[5] - 0.777) < 1e-9 && Math.abs(table[9] - 0.666) < 1e-9);
  noFaults(page);
  noFaults(other);
  await other.context().close();
});

test('a restart in the middle loses nothing that was typed, and the page goes on by itself', async () => {
  await page.locator('td[data-node="20"]').click();
  await page.keyboard.type('55.5');
  await page.keyboard.press('Enter');
  await page.locator('td.changed').first().waitFor();
  await g.stop('SIGKILL');
  const silence = page.locator('.banner').filter({hasText: 'does not answer'});
  await silence.waitFor();
  assert.match(await page.locator('td[data-node="20"]').textContent(), /55\.5/);
  await page.getByLabel('Reason, kept in the journal').fill('through a restart');
  await g.serve();
  await silence.waitFor({state: 'detached'});
  assert.match(await page.locator('td[data-node="20"]').textContent(), /55\.5/);
  await page.reload();
  await page.locator('td.changed').first().waitFor();
  assert.match(await page.locator('td[data-node="20"]').textContent(), /55\.5/);
  await page.getByLabel('Reason, kept in the journal').fill('through a restart');
  await page.getByRole('button', {name: 'Keep amendments'}).click();
  await page.waitForFunction(() => document.querySelectorAll('td.changed').length === 0);
  assert.ok(Math.abs((await g.get('/jobs/four/chart')).in_force[20] - 0.555) < 1e-9);
  noFaults(page);
});

test('long work that a restart cut off is asked again and ends', async () => {
  await g.open(page, 'four', 'drives');
  const hurry = page.goto(`${g.address}/#/four/supply`);
  await hurry;
  await page.getByRole('status').first().waitFor();
  await g.stop('SIGKILL');
  await g.serve();
  await page.locator('.banner').waitFor({state: 'detached'});
  await page.getByRole('link', {name: 'Drives'}).click();
  assert.match(await sentence(page), /\S/);
  noFaults(page);
});
