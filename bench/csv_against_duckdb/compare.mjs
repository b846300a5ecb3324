// Reads one numeric CSV with Fuelwright's reader and with DuckDB, one thread each, and prints a table.
//
//   npm ci && node compare.mjs PATH/TO/fuelwright_csv_speed [MEGABYTES]
//
// The program writes the file, reads it to channels in SI (recognition included) and says how long that took and how
// much memory it needed at most. DuckDB creates a table of the same file in a database in memory. Both read a file
// that is in the page cache. Each runs in a process of its own, once for the cache and once for the table.
import {spawnSync} from 'node:child_process';
import {mkdtempSync, rmSync, statSync} from 'node:fs';
import {tmpdir} from 'node:os';
import {join} from 'node:path';

const [program, megabytes = '200'] = process.argv.slice(2);
if (program === '--duckdb') {
  const {DuckDBInstance} = await import('@duckdb/node-api');
  const instance = await DuckDBInstance.create(':memory:', {threads: '1'});
  const connection = await instance.connect();
  const from = process.hrtime.bigint();
  await connection.run(`CREATE TABLE drive AS SELECT * FROM read_csv('${megabytes}')`);
  const seconds = Number(process.hrtime.bigint() - from) / 1e9;
  const rows = (await connection.runAndReadAll('SELECT count(*) FROM drive')).getRows()[0][0];
  console.log(JSON.stringify({seconds, rows: Number(rows)}));
  process.exit(0);
}
if (!program) {
  console.error('usage: node compare.mjs PATH/TO/fuelwright_csv_speed [MEGABYTES]');
  process.exit(2);
}

function run(command, ...args) {
  const out = spawnSync(command, args, {encoding: 'utf8'});
  if (out.status !== 0) throw new Error(`${command} ${args.join(' ')}: ${out.stderr || out.error}`);
  return out.stdout;
}

const folder = mkdtempSync(join(tmpdir(), 'csv-'));
try {
  const file = join(folder, 'drive.csv');
  run(program, 'write', file, megabytes);
  const size = statSync(file).size / 1e6;
  const ours = () => JSON.parse(run(program, 'read', file));
  const theirs = () => JSON.parse(run(process.execPath, process.argv[1], '--duckdb', file));
  ours();
  theirs();
  const a = ours();
  const b = theirs();
  if (a.rows !== b.rows) throw new Error(`rows differ: ${a.rows} and ${b.rows}`);
  const row = (name, r) => [name, `${(size / r.seconds).toFixed(0)} MB/s`, `${r.seconds.toFixed(2)} s`];
  const lines = [
    ['reader', 'speed', 'time'],
    row('this reader: file to channels in SI', a),
    row('DuckDB: file to table', b),
  ];
  console.log(`${size.toFixed(0)} MB, ${a.rows} rows, ${a.columns} columns, one thread, in one run`);
  for (const l of lines) console.log(l[0].padEnd(38) + l[1].padStart(10) + l[2].padStart(10));
  console.log(`ratio ${(b.seconds / a.seconds).toFixed(2)}; peak memory of this reader ${a.peak_mb.toFixed(0)} MB, ` +
      `of which the file ${size.toFixed(0)} and the decoded channels ${(a.rows * a.columns * 8 / 1e6).toFixed(0)}`);
} finally {
  rmSync(folder, {recursive: true});
}
