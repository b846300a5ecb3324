// Two readers that are not ours (DuckDB, hyparquet) read what Fuelwright wrote and compare every cell.
//
//   node read_parquet.mjs cells FILE.parquet EXPECTED.json   one file against the cells it was made from
//   node read_parquet.mjs archive FOLDER EXPECTED.json       a folder as the program writes it
//
// Prints one line a difference and exits with 1, or prints what was compared and exits with 0.
import {readFileSync} from 'node:fs';
import {join, dirname} from 'node:path';
import {DuckDBInstance} from '@duckdb/node-api';
import {decompress} from 'fzstd';
import {parquetMetadata, parquetRead} from 'hyparquet';

const [what, path, expectedPath] = process.argv.slice(2);
const expected = JSON.parse(readFileSync(expectedPath, 'utf8'));
const faults = [];
function check(ok, text) {
  if (!ok && faults.length < 20) faults.push(text);
}
const connection = await (await DuckDBInstance.create(':memory:')).connect();
async function query(sql) {
  return (await connection.runAndReadAll(sql)).getRows();
}
const one = async (sql) => (await query(sql))[0][0];
// DuckDB: bigint or {micros}; hyparquet: Date, which ends at the millisecond, unless told otherwise.
const number = (v) => (v === null || v === undefined ? null : Number(v.micros ?? v));
const same = (a, b) => (a === null || b === null ? a === b : Object.is(a, b) || a === b);

// The cells as the test wrote them beside the JSON: little-endian, NaN or the smallest INT64 for a gap.
function cellsOf(column) {
  const bytes = readFileSync(join(dirname(expectedPath), column.file));
  const buffer = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length);
  if (column.type === 'i64') {
    return Array.from(new BigInt64Array(buffer), (v) => (v === -(2n ** 63n) ? null : Number(v)));
  }
  const values = column.type === 'f64' ? new Float64Array(buffer) : new Float32Array(buffer);
  return Array.from(values, (v) => (Number.isNaN(v) ? null : v));
}

function compare(reader, name, got, wanted) {
  check(got.length === wanted.length, `${reader}: ${name}: ${got.length} rows, expected ${wanted.length}`);
  for (let i = 0; i < wanted.length; ++i) {
    if (!same(got[i], wanted[i])) {
      check(false, `${reader}: ${name}[${i}] is ${got[i]}, expected ${wanted[i]}`);
      return;
    }
  }
}

async function hyparquetColumns(file, bytes) {
  const columns = {};
  let rows = [];
  await parquetRead({
    file: bytes,
    compressors: {ZSTD: (input, size) => decompress(input, new Uint8Array(size))},
    parsers: {timestampFromMicroseconds: (micros) => micros},
    rowFormat: 'object',
    onComplete: (all) => (rows = all),
  });
  for (const name of Object.keys(rows[0])) columns[name] = rows.map((row) => row[name]);
  return columns;
}

// Statistics of each row group against the cells of that group, NaN being none of them.
function checkStatistics(metadata, name, wanted) {
  let row = 0;
  for (const group of metadata.row_groups) {
    const column = group.columns.map((c) => c.meta_data).find((c) => c.path_in_schema[0] === name);
    const size = Number(group.num_rows);
    const cells = wanted.slice(row, row + size).filter((v) => v !== null);
    row += size;
    const s = column.statistics;
    check(Number(s.null_count) === size - cells.length, `statistics of ${name}: null_count ${s.null_count}`);
    const range = (v) => (v === undefined ? undefined : Number(v instanceof Date ? v.getTime() * 1000 : v));
    const near = (a, b) => (s.min_value instanceof Date ? Math.abs(a - b) < 1000 : a === b || (a === 0 && b === 0));
    if (cells.length === 0) {
      check(s.min_value === undefined && s.max_value === undefined, `statistics of ${name}: a range of nothing`);
    } else {
      const low = cells.reduce((a, b) => Math.min(a, b));
      const high = cells.reduce((a, b) => Math.max(a, b));
      check(near(range(s.min_value), low), `statistics of ${name}: min ${s.min_value}, expected ${low}`);
      check(near(range(s.max_value), high), `statistics of ${name}: max ${s.max_value}, expected ${high}`);
    }
  }
}

async function checkCells() {
  const bytes = readFileSync(path);
  const file = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length);
  const metadata = parquetMetadata(file);
  const theirs = await hyparquetColumns(path, file);
  check(Number(metadata.num_rows) === expected.rows, `hyparquet: ${metadata.num_rows} rows in the footer`);
  check(metadata.row_groups.length === expected.groups, `hyparquet: ${metadata.row_groups.length} row groups`);
  const names = (await query(`DESCRIBE SELECT * FROM '${path}'`)).map((row) => `${row[0]} ${row[1]}`);
  compare('DuckDB', 'schema', names, expected.schema);
  for (const column of expected.columns) {
    const wanted = cellsOf(column);
    // The name stands without quotes: none may be a reserved word.
    const sql = column.type === 'i64' && column.name === 'ts' ? 'epoch_us(ts)' : column.name;
    const got = (await query(`SELECT ${sql} FROM '${path}' ORDER BY row_index`)).map((row) => number(row[0]));
    compare('DuckDB', column.name, got, wanted);
    compare('hyparquet', column.name, theirs[column.name].map(number), wanted);
    checkStatistics(metadata, column.name, wanted);
  }
  for (const [name, values] of Object.entries(expected.texts)) {
    const runs = (list) => list.filter((v, i) => i === 0 || v !== list[i - 1]);
    const got = (await query(`SELECT ${name} FROM '${path}' ORDER BY row_index`)).map((row) => row[0]);
    compare('DuckDB', name, runs(got), values);
    compare('hyparquet', name, runs(theirs[name]), values);
  }
  for (const [sql, wanted] of expected.counts) {
    const got = Number(await one(sql.replaceAll('FILE', `'${path}'`)));
    check(got === wanted, `DuckDB: ${sql} gives ${got}, expected ${wanted}`);
  }
  const notes = Object.fromEntries(metadata.key_value_metadata.map(({key, value}) => [key, value]));
  const duck = Object.fromEntries(
      (await query(`SELECT decode(key), decode(value) FROM parquet_kv_metadata('${path}')`)));
  for (const [key, value] of Object.entries(expected.notes)) {
    check(notes[key] === value, `hyparquet: note ${key} is ${notes[key]}, expected ${value}`);
    check(duck[key] === value, `DuckDB: note ${key} is ${duck[key]}, expected ${value}`);
  }
  return `${expected.columns.length} columns of ${expected.rows} rows`;
}

async function checkArchive() {
  const logs = `read_parquet('${path}/logs/**/*.parquet', union_by_name = true, hive_partitioning = true)`;
  const sessions = `read_parquet('${path}/sessions/**/*.parquet', hive_partitioning = true)`;
  for (const [sql, wanted] of expected.values) {
    const got = await one(sql.replaceAll('LOGS', logs).replaceAll('SESSIONS', sessions));
    const fits = typeof wanted === 'number' ? Math.abs(Number(got) - wanted) <= 1e-6 * Math.abs(wanted)
                                            : String(got) === wanted;
    check(fits, `DuckDB: ${sql} gives ${got}, expected ${wanted}`);
  }
  return `${expected.values.length} questions to the archive`;
}

const done = what === 'cells' ? await checkCells() : await checkArchive();
for (const fault of faults) console.log(fault);
if (faults.length === 0) console.log(`agreed: ${done}`);
process.exit(faults.length === 0 ? 0 : 1);
