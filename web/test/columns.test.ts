// A dense trace as bars, against what a line through the same points covers.
import {describe, expect, it} from 'vitest';
import {bars, firstFrom, isDense} from '../pages/drives/columns.ts';

const across = {left: 10, width: 100, from: 0, to: 50};
const of = (x: number[], v: (number | null)[]): Map<number, [number, number]> => {
  const out = new Map<number, [number, number]>();
  bars(x, v, across, (y) => y, (c, top, bottom) => {
    expect(out.has(c)).toBe(false);
    out.set(c, [top, bottom]);
  });
  return out;
};

describe('a dense trace', () => {
  const x = Array.from({length: 401}, (_, k) => k / 8);  // four points to a column
  it('covers the least and the greatest value of every column', () => {
    const v = x.map((t) => 40 + 30 * Math.sin(t * 9) + 5 * Math.sin(t * 71));
    const got = of(x, v);
    for (let c = 10; c < 110; ++c) {
      const inside = v.filter((_, k) => Math.floor(10 + x[k]! * 2) === c);
      expect(got.get(c)![0]).toBeLessThanOrEqual(Math.min(...inside));
      expect(got.get(c)![1]).toBeGreaterThanOrEqual(Math.max(...inside));
    }
    // Neighbours meet: the line is nowhere torn.
    for (let c = 11; c < 110; ++c) {
      const [a, b] = [got.get(c - 1)!, got.get(c)!];
      expect(Math.max(a[0], b[0])).toBeLessThanOrEqual(Math.min(a[1], b[1]) + 1e-9);
    }
  });

  it('is torn where there is no value, and only there', () => {
    const got = of(x, x.map((t) => (t > 20 && t < 30 ? null : 5)));
    for (let c = 10; c < 110; ++c) expect(got.has(c), String(c)).toBe(!(c > 50 && c < 70));
  });

  it('crosses columns that hold no row', () => {
    const got = of([0, 10, 50], [0, 10, 50]);
    expect(got.size).toBe(101);
    expect(got.get(60)![0]).toBeCloseTo(25, 0);
  });

  it('is dense from more than one point a column on', () => {
    expect(isDense(x, across)).toBe(true);
    expect(isDense(x.filter((_, k) => k % 8 === 0), across)).toBe(false);
    expect(firstFrom([0, 1, 2], 1)).toBe(1);
  });
});
