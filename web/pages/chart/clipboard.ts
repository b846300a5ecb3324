// What a spreadsheet puts on the clipboard: rows of cells with tabs between.

import {parseFigure} from '../../lib/number.ts';

export type Pasted = {kind: 'block'; rows: (number | null)[][]} | {kind: 'table'; text: string} | {kind: 'nothing'};

/// A block of bare figures can be laid anywhere; whatever has words in it (axes, units) is read by the program.
export function readPasted(text: string): Pasted {
  const lines = text.replace(/\r\n?/g, '\n').replace(/\n+$/, '').split('\n');
  const rows = lines.map((l) => l.split('\t'));
  if (rows.every((r) => r.every((c) => c.trim() === ''))) return {kind: 'nothing'};
  const block: (number | null)[][] = [];
  for (const row of rows) {
    const out: (number | null)[] = [];
    for (const cell of row) {
      if (cell.trim() === '') {
        out.push(null);
        continue;
      }
      const value = parseFigure(cell);
      if (value === null) return {kind: 'table', text};
      out.push(value);
    }
    block.push(out);
  }
  // A first row that begins with an empty corner and then runs over more columns is an axis.
  if (block.length > 1 && block[0]![0] === null && block[0]!.length > 1) return {kind: 'table', text};
  return {kind: 'block', rows: block};
}

/// A range as a spreadsheet takes it, high load first as on the page.
export function writeBlock(values: ArrayLike<number>, nx: number, r: {i0: number; j0: number; i1: number; j1: number},
                           factor: number, digits: number): string {
  const lines: string[] = [];
  for (let j = r.j1; j >= r.j0; --j) {
    const cells: string[] = [];
    for (let i = r.i0; i <= r.i1; ++i) cells.push((values[j * nx + i]! * factor).toFixed(digits));
    lines.push(cells.join('\t'));
  }
  return lines.join('\n');
}
