// Takes the pictures of docs/screens from a folder of jobs: node screens.mjs JOBS_FOLDER JOB OUT_FOLDER. For people to look at.
import {mkdirSync, rmSync, readdirSync, cpSync} from 'node:fs';
import {join} from 'node:path';
import {Ground, noFaults, settled} from './ground.mjs';

const [, , from, job, out] = process.argv;
mkdirSync(out, {recursive: true});
for (const old of readdirSync(out)) if (old.endsWith('.jpg')) rmSync(join(out, old));

const g = await Ground.lay();
cpSync(from, g.folder, {recursive: true});
const kBench = {width: 1280, height: 800}, kTablet = {width: 800, height: 1280};
const shots = [
  [null, 'new-job', kBench, 'light'],
  ['parts', 'parts', kBench, 'light'], ['parts', 'parts-tablet', kTablet, 'light'], ['parts', 'parts-dark', kBench, 'dark'],
  ['supply', 'supply', kBench, 'light'], ['supply', 'supply-tablet', kTablet, 'light'],
  ['first-tables', 'first-tables', kBench, 'light'], ['first-tables', 'first-tables-tablet', kTablet, 'dark'],
  ['key-on', 'key-on', kBench, 'light'], ['key-on', 'key-on-tablet', kTablet, 'light'],
  ['drives', 'drives', kBench, 'light'], ['drives', 'drives-dark', kBench, 'dark'], ['drives', 'drives-tablet', kTablet, 'light'],
  ['chart', 'chart', kBench, 'light'], ['chart', 'chart-dark', kBench, 'dark'], ['chart', 'chart-tablet', kTablet, 'dark'],
  ['chart/table', 'table', kBench, 'light'], ['chart/table', 'table-tablet', kTablet, 'light'],
  ['chart/surface', 'surface', kBench, 'light'],
];
try {
  for (const [where, name, viewport, colorScheme] of shots) {
    const page = await g.tab({viewport, colorScheme, ...(viewport === kTablet ? {hasTouch: true, isMobile: true} : {})});
    // The example keeps a prediction by this many engines.
    for (const what of ['predict', 'size']) await page.route(`**/${what}`, (route) => route.continue({
      postData: JSON.stringify({...JSON.parse(route.request().postData() ?? '{}'), members: 24})}));
    await (where === null ? g.open(page, null) : g.open(page, job, where));
    await settled(page);
    await page.evaluate(() => document.fonts.ready.then(() => undefined));
    if (where === 'chart' && viewport === kBench) {
      await page.locator('.terrain .canvas-hold').focus();
      await page.keyboard.press('ArrowLeft');
      await page.locator('.terrain .canvas-hold').evaluate((e) => e.blur());
    }
    await page.screenshot({path: join(out, `${name}.jpg`), type: 'jpeg', quality: 72});
    noFaults(page);
    console.log(`${name}.jpg`);
    await page.context().close();
  }
} finally {
  await g.leave();
}
