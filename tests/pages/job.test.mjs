// A new user does the whole job in the browser: five answers, a recording, the finding, the chart, accept, plan, export, and an
// edited table pasted back.
import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {join} from 'node:path';
import {answerFive, drive, Ground, kPatience, noFaults, root, sentence, settled} from './ground.mjs';

let g, page, recording;
before(async () => {
  g = await Ground.lay();
  recording = drive(join(root, 'examples/small_four.toml'), join(g.folder, 'town.csv'));
  page = await g.tab();
});
after(() => g?.leave());

test('five answers make a job, and each is said back as it was understood', async () => {
  await g.open(page, null);
  await answerFive(page, 'small four');
  await page.keyboard.press('Tab');
  await page.getByText('understood: E10').waitFor();
  await page.getByRole('button', {name: 'Begin the job'}).click();
  await page.waitForURL(/small%20four\/parts/);
  assert.match(await sentence(page), /\S/);
  const sheet = await g.get('/jobs/small%20four/sheet');
  assert.equal(await sentence(page), sheet.sentence);
  await page.getByRole('button', {name: /Injector flow/}).waitFor();
});

test('a part that is opened can be said better, and the sheet follows', async () => {
  const line = page.getByRole('button', {name: /compression ratio/});
  assert.match(await line.textContent(), /typical/);
  await line.click();
  await page.getByLabel('compression ratio').fill('9.5 +- 0.2');
  await page.getByRole('button', {name: 'measured on this car'}).click();
  await page.getByRole('button', {name: 'Put it on the sheet'}).click();
  await page.waitForFunction(() => [...document.querySelectorAll('button.line')].some((b) =>
      b.textContent.includes('compression ratio') && b.textContent.includes('measured') && b.textContent.includes('9.5')));
  const {sheet} = await g.get('/jobs/small%20four/sheet');
  const now = sheet.find((l) => l.key === 'compression');
  assert.equal(now.source, 'measured');
  assert.equal(now.si[0], 9.5);
});

test('a value that cannot be is refused in words, and nothing is written', async () => {
  await page.getByRole('button', {name: /cylinder bore/}).click();
  await page.getByLabel('cylinder bore').fill('20 mm');
  await page.getByRole('alert').filter({hasText: '40 to 200 mm'}).first().waitFor();
  assert.ok(await page.getByRole('button', {name: 'Put it on the sheet'}).isDisabled());
  await page.getByRole('button', {name: 'Leave it'}).click();
});

test('a recording is dropped, its ambiguous columns are asked, and it is added', async () => {
  await page.getByRole('link', {name: 'Drives'}).click();
  await page.locator('input[type=file]').setInputFiles(recording);
  const asked = page.locator('.to-answer');
  await asked.first().waitFor({timeout: kPatience});
  assert.match(await asked.first().textContent(), /AFR/);
  // Every question is answered with the usual constant of a petrol gauge.
  for (let k = 0; k < 6 && (await asked.count()) > 0; ++k) {
    const before = await asked.first().textContent();
    await asked.first().getByRole('button').filter({hasText: '14.7'}).first().click();
    await page.waitForFunction((was) => document.querySelector('.to-answer')?.textContent !== was, before);
  }
  await page.getByRole('button', {name: 'Add to the job'}).click();
  await page.locator('.strips .u-wrap').first().waitFor({timeout: kPatience});
  assert.equal((await g.get('/jobs/small%20four/recordings')).recordings.length, 1);
});

test('the finding is read: sentence, notes, masks and guards of that drive', async () => {
  await page.locator('[aria-label="Guards"]').waitFor({timeout: kPatience});
  const check = await g.work('small%20four', 'check', {});
  assert.equal(await sentence(page), check.sentence);
  const notes = check.recordings[0].findings.filter((f) => f.grade !== 'fine');
  assert.equal(await page.locator('[aria-label="Findings"] .notes > li').count(), notes.length);
  await page.keyboard.press('Tab');
  await page.locator('.strips').focus();
  const was = await page.locator('.strips').getAttribute('aria-label');
  await page.keyboard.press('+');
  await page.waitForFunction((b) => document.querySelector('.strips').getAttribute('aria-label') !== b, was);
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('0');
  noFaults(page);
});

test('the chart says what driving proves, node by node', async () => {
  await page.getByRole('link', {name: 'Chart', exact: true}).click();
  await page.getByRole('button', {name: 'Work out what they prove'}).click();
  await page.getByRole('button', {name: 'Accept the proposal'}).waitFor({timeout: kPatience});
  const chart = await g.get('/jobs/small%20four/chart');
  assert.equal(chart.basis, 'driving');
  assert.equal(await sentence(page), chart.sentence);
  await page.locator('.terrain .canvas-hold').focus();
  await page.keyboard.press('ArrowRight');
  await page.locator('.callout').waitFor();
  const said = await page.locator('.terrain [aria-live]').textContent();
  assert.ok(chart.says.includes(said), said);
});

test('the proposal is accepted and becomes the revision in force', async () => {
  const before = (await g.get('/jobs/small%20four/revisions')).in_force;
  await page.getByRole('button', {name: 'Accept the proposal'}).click();
  await page.getByRole('status').filter({hasText: /Revision \d+ is in force/}).waitFor();
  const now = (await g.get('/jobs/small%20four/revisions')).in_force;
  assert.equal(now, before + 1);
  await page.getByText(`Revision ${now}`).first().waitFor();
});

test('the plan is read out, step by step, with its cautions', async () => {
  await settled(page);
  await page.getByRole('button', {name: /read out/}).click();
  const dialog = page.getByRole('dialog');
  await dialog.getByText('Before you drive').waitFor();
  const plan = await g.work('small%20four', 'plan', {});
  assert.ok(plan.steps.length > 0);
  for (const s of plan.steps) assert.ok((await dialog.textContent()).includes(s.says), s.says);
  await page.keyboard.press('Escape');
  await dialog.waitFor({state: 'hidden'});
});

test('a table goes out and comes back edited: pasted, undone, pasted again, kept with a reason', async () => {
  await page.getByRole('button', {name: 'Export'}).click();
  const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', {name: 'TSV'}).click()]);
  const {readFileSync} = await import('node:fs');
  const text = readFileSync(await file.path(), 'utf8');
  assert.match(text, /\t/);
  await page.getByRole('button', {name: 'Close'}).click();

  // In the spreadsheet: every figure of the row of highest load is raised by one.
  const rows = text.trimEnd().split(/\r?\n/).map((l) => l.split('\t'));
  const body = rows.findIndex((r, k) => k > 0 && r.length > 3 && r.slice(1).every((c) => Number.isFinite(Number(c)) && c !== ''));
  const last = rows.length - 1;
  for (const k of [body, last]) rows[k] = rows[k].map((c, i) => (i === 0 ? c : (Number(c) + 1).toFixed(2)));
  const edited = rows.map((r) => r.join('\t')).join('\n');

  await page.getByRole('link', {name: 'Table', exact: true}).click();
  await page.locator('td[data-node="0"]').click();
  const paste = () => page.evaluate((t) => {
    const data = new DataTransfer();
    data.setData('text/plain', t);
    document.activeElement.dispatchEvent(new ClipboardEvent('paste', {clipboardData: data, bubbles: true, cancelable: true}));
  }, edited);
  await paste();
  await page.locator('td.changed').first().waitFor();
  const changed = await page.locator('td.changed').count();
  assert.ok(changed > 0);
  await page.keyboard.press('Control+z');
  await page.waitForFunction(() => document.querySelectorAll('td.changed').length === 0);
  await paste();
  await page.waitForFunction((n) => document.querySelectorAll('td.changed').length === n, changed);
  await page.getByLabel('Reason, kept in the journal').fill('smoother at the edge, by hand');
  const before = await g.get('/jobs/small%20four/chart');
  await page.getByRole('button', {name: 'Keep amendments'}).click();
  await page.waitForFunction(() => document.querySelectorAll('td.changed').length === 0);
  const now = await g.get('/jobs/small%20four/chart');
  assert.equal(now.revision, before.revision + 1);
  const moved = now.in_force.filter((v, k) => Math.abs(v - before.in_force[k]) > 1e-6);
  assert.equal(moved.length, changed);
  const {journal} = await g.get('/jobs/small%20four/journal');
  assert.match(journal.at(-1).why, /smoother at the edge/);
  noFaults(page);
});

test('two revisions are compared, and the earlier one can be in force again', async () => {
  await page.getByRole('button', {name: 'Compare'}).click();
  const dialog = page.getByRole('dialog');
  await dialog.locator('table.differences').first().waitFor();
  await dialog.getByRole('button', {name: 'Close'}).click();
  await page.getByRole('button', {name: 'Job', exact: true}).click();
  await page.getByRole('button', {name: 'Revisions and journal'}).click();
  await page.getByRole('button', {name: 'Back to 1'}).click();
  await page.getByRole('button', {name: 'Put revision 1 in force'}).click();
  await page.getByText('1, in force').waitFor();
  assert.equal((await g.get('/jobs/small%20four/revisions')).in_force, 1);
  noFaults(page);
});
