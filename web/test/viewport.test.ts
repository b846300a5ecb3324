// Panning and zooming over a long recording.
import {describe, expect, it} from 'vitest';
import {covered, inside, merge, panned, wanted, zigzag, zoomed} from '../pages/drives/viewport.ts';

const whole = {from: 0, to: 50000};

describe('the window', () => {
  it('stays inside the recording and keeps its width', () => {
    expect(inside({from: -20, to: 80}, whole, 1)).toEqual({from: 0, to: 100});
    expect(inside({from: 49990, to: 50090}, whole, 1)).toEqual({from: 49900, to: 50000});
    expect(inside({from: -1e6, to: 1e6}, whole, 1)).toEqual(whole);
    const narrow = inside({from: 10, to: 10.001}, whole, 2);
    expect(narrow.from).toBeCloseTo(9.0005, 9);
    expect(narrow.to).toBeCloseTo(11.0005, 9);
  });
  it('zooms about a place that stays where it is', () => {
    const w = zoomed({from: 100, to: 200}, 125, 0.5);
    expect(w).toEqual({from: 112.5, to: 162.5});
    expect((125 - w.from) / (w.to - w.from)).toBeCloseTo((125 - 100) / 100, 12);
  });
});

describe('what is held', () => {
  const pixels = 900;
  it('serves a pan by a whole screen either way', () => {
    const first = wanted(null, {from: 1000, to: 2000}, whole, pixels)!;
    expect(first).toEqual({from: 0, to: 3000, points: 2700});
    const held = {...first, step: 3000 / 2700};
    expect(wanted(held, panned({from: 1000, to: 2000}, 1000), whole, pixels)).toBeNull();
    expect(wanted(held, panned({from: 1000, to: 2000}, -1000), whole, pixels)).toBeNull();
    expect(wanted(held, panned({from: 1000, to: 2000}, 1001), whole, pixels)).not.toBeNull();
  });
  it('is too coarse when zoomed in, unless every row is there', () => {
    const held = {from: 0, to: 3000, step: 3000 / 2700};
    expect(wanted(held, {from: 1000, to: 1400}, whole, pixels)).not.toBeNull();
    expect(wanted({...held, step: 0}, {from: 1000, to: 1400}, whole, pixels)).toBeNull();
  });
  it('never asks for more columns than the program gives', () => {
    expect(wanted(null, {from: 0, to: 50000}, whole, 5000)!.points).toBeLessThanOrEqual(8000);
  });
});

describe('masks', () => {
  it('that touch are one, and cover what lies in them', () => {
    const m = merge([[5, 8], [1, 2], [7, 9]]);
    expect(m).toEqual([[1, 2], [5, 9]]);
    expect([0, 1, 1.5, 3, 5, 9, 9.1].map((x) => covered(m, x))).toEqual([false, true, true, false, true, true, false]);
  });
});

describe('a reduced trace', () => {
  it('shows every peak, in the order in which it came', () => {
    const [x, y] = zigzag([0, 10], 10, [1, 2], [9, 3], [1, 3], [9, 2]);
    expect(x).toEqual([2.5, 7.5, 12.5, 17.5]);
    expect(y).toEqual([1, 9, 3, 2]);
  });
  it('leaves a gap a gap', () => {
    const [, y] = zigzag([0, 10], 10, [null, 2], [null, 3], [null, 3], [null, 2]);
    expect(y).toEqual([null, null, 3, 2]);
  });
});
