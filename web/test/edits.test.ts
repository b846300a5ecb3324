// What a hand does to a table.
import {describe, expect, it} from 'vitest';
import {readPasted, writeBlock} from '../pages/chart/clipboard.ts';
import {Edits} from '../pages/chart/edits.ts';

const x = [500, 1000, 2000, 4000], y = [20, 40, 100];
const of = (f: (x: number, y: number) => number): number[] => y.flatMap((b) => x.map((a) => f(a, b)));
const all = {i0: 0, j0: 0, i1: 3, j1: 2};

describe('filling between edges', () => {
  it('gives a bilinear surface back when its inside was lost', () => {
    const truth = of((a, b) => 3 + a / 1000 + b / 50 + (a * b) / 1e5);
    const e = new Edits(x, y, truth);
    e.each({i0: 1, j0: 1, i1: 2, j1: 1}, () => 0);
    e.fill(all);
    truth.forEach((v, k) => expect(e.values[k]).toBeCloseTo(v, 10));
  });
  it('is linear in the axis along one row, whichever way the range was drawn', () => {
    const e = new Edits(x, y, of(() => 1));
    e.each({i0: 3, j0: 0, i1: 3, j1: 0}, () => 8);
    e.fill({i0: 3, j0: 0, i1: 0, j1: 0});
    // 1 at 500 rpm, 8 at 4000: 2 at 1000, 4 at 2000.
    [1, 2, 4, 8].forEach((v, i) => expect(e.values[i]).toBeCloseTo(v, 12));
  });
});

describe('softening', () => {
  it('leaves a plane of even steps as it is', () => {
    const e = new Edits([0, 1, 2], [0, 1, 2], [0, 1, 2, 1, 2, 3, 2, 3, 4]);
    e.soften({i0: 1, j0: 1, i1: 1, j1: 1}, null);
    expect(e.values[4]).toBeCloseTo(2, 12);
  });
  it('moves a guess to its proven neighbours, and hardly a proven node to guesses', () => {
    const values = [0, 0, 0, 0, 1, 0, 0, 0, 0];
    const guess = new Edits([0, 1, 2], [0, 1, 2], values);
    guess.soften({i0: 1, j0: 1, i1: 1, j1: 1}, [1, 1, 1, 1, 10, 1, 1, 1, 1]);
    // Weights 1/100 and 1: 0.01 / 1.01.
    expect(guess.values[4]).toBeCloseTo(0.01 / 1.01, 10);
    const proven = new Edits([0, 1, 2], [0, 1, 2], values);
    proven.soften({i0: 1, j0: 1, i1: 1, j1: 1}, [10, 10, 10, 10, 1, 10, 10, 10, 10]);
    expect(proven.values[4]).toBeCloseTo(1 / 1.01, 10);
  });
});

describe('every step', () => {
  it('can be taken back and made again, one by one', () => {
    const e = new Edits(x, y, of(() => 1));
    e.each(all, (v) => v * 2);
    e.each(all, (v) => v + 1);
    expect(e.changed()).toHaveLength(12);
    e.undo();
    expect(e.values[5]).toBe(2);
    e.undo();
    expect(e.changed()).toHaveLength(0);
    expect(e.canUndo).toBe(false);
    e.redo();
    e.redo();
    expect(e.values[5]).toBe(3);
    e.undo();
    e.each(all, () => 9);
    expect(e.canRedo).toBe(false);
  });
  it('that changes nothing is none', () => {
    const e = new Edits(x, y, of(() => 1));
    e.each(all, (v) => v);
    expect(e.canUndo).toBe(false);
  });
});

describe('the clipboard', () => {
  it('carries a block of figures from and to a spreadsheet, high load on top', () => {
    const e = new Edits(x, y, of((a, b) => a / 1000 + b / 100));
    const text = writeBlock(e.values, 4, {i0: 1, j0: 0, i1: 2, j1: 1}, 100, 2);
    expect(text).toBe('140.00\t240.00\n120.00\t220.00');
    const back = readPasted(text + '\r\n');
    expect(back).toEqual({kind: 'block', rows: [[140, 240], [120, 220]]});
    if (back.kind === 'block') expect(e.paste(0, 2, back.rows.map((r) => r.map((v) => v! / 100)))).toBe(4);
    expect(e.values[8]).toBeCloseTo(1.4, 12);
    expect(e.values[5]).toBeCloseTo(2.2, 12);
  });
  it('leaves a table with axes to the program, and knows an empty one', () => {
    expect(readPasted('kPa\t500\t1000\n40\t50\t60')).toMatchObject({kind: 'table'});
    expect(readPasted('\t500\t1000\n40\t50\t60')).toMatchObject({kind: 'table'});
    expect(readPasted('\t\n\t')).toEqual({kind: 'nothing'});
  });
  it('reads decimal commas and leaves gaps alone', () => {
    expect(readPasted('82,5\t\n\t1,234')).toEqual({kind: 'block', rows: [[82.5, null], [null, 1234]]});
  });
});
