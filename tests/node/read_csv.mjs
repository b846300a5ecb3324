// Reads CSV files with DuckDB, for tests/corpus/readers_test.cc.
//
//   node read_csv.mjs LIST.json    [{"path": ..., "separator": ...}, ...]
//
// Prints one {"names": [...], "columns": [[cell, ...], ...]} a file: a number, null where the cell is blank, else its text.
import {readFileSync, writeFileSync} from 'node:fs';
import {DuckDBInstance} from '@duckdb/node-api';

const connection = await (await DuckDBInstance.create(':memory:')).connect();
const quoted = (text) => `'${text.replaceAll("'", "''")}'`;

async function read({path, separator}) {
  const table = `read_csv(${quoted(path)}, delim = ${quoted(separator)}, header = true, all_varchar = true)`;
  const texts = await connection.runAndReadAll(`SELECT * FROM ${table}`);
  // DuckDB turns the text into numbers, not JavaScript.
  const numbers = await connection.runAndReadAll(`SELECT TRY_CAST(COLUMNS(*) AS DOUBLE) FROM ${table}`);
  const numberColumns = numbers.getColumns();
  const blank = (text) => text === null || text.trim() === '';
  const cell = (text, number) => (blank(text) ? null : Number.isFinite(number) ? number : text);
  return {
    names: texts.columnNames(),
    columns: texts.getColumns().map((column, i) => column.map((text, k) => cell(text, numberColumns[i][k]))),
  };
}

const out = [];
for (const wanted of JSON.parse(readFileSync(process.argv[2], 'utf8'))) out.push(await read(wanted));
writeFileSync(1, JSON.stringify(out));
