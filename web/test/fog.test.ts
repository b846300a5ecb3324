// The rule that turns a standard deviation into hatch, against the figures written down with it.
import {describe, expect, it} from 'vitest';
import {fogLines, fogWidth, kPitch} from '../chart/fog.ts';
import {shrink} from '../chart/field.ts';

describe('fog', () => {
  it('thickens as the rule says', () => {
    // look: sd 1 -> none, 1.6 -> 0.21 px, 2 -> 0.32, 3 -> 0.60, 4 -> 0.83, 6 -> 1.19, 8 -> 1.47
    const rule: [number, number][] = [[1, 0], [1.5, 0], [1.6, 0.21], [2, 0.32], [3, 0.6], [4, 0.83], [6, 1.19], [8, 1.47]];
    for (const [sd, width] of rule) expect(fogWidth(sd)).toBeCloseTo(width, 2);
    expect(fogWidth(40)).toBeCloseTo(1.5, 6);
    expect(fogWidth(0)).toBe(0);
    expect(fogWidth(Number.NaN)).toBe(0);
  });

  it('covers a third of the paper where nothing is known', () => {
    const box = {left: 10, top: 20, width: 300, height: 200};
    let area = 0, x0 = 0, y0 = 0, lx = 0, ly = 0;
    const path = {
      moveTo(x: number, y: number) { [x0, y0, lx, ly] = [x, y, x, y]; },
      lineTo(x: number, y: number) {
        area += (lx * y - x * ly) / 2;
        [lx, ly] = [x, y];
      },
      closePath() { area += (lx * y0 - x0 * ly) / 2; },
    };
    const made = fogLines(box, () => fogWidth(8), path);
    // Ink = width / pitch = 1.47 / 4.4 = 33 %.
    expect(Math.abs(area) / (300 * 200)).toBeCloseTo(fogWidth(8) / kPitch, 2);
    expect(made).toBeGreaterThan(70);
  });

  it('leaves known ground clear and stops at its edge', () => {
    const xs: number[] = [];
    const path = {moveTo: (x: number) => xs.push(x), lineTo: (x: number) => xs.push(x), closePath: () => undefined};
    fogLines({left: 0, top: 0, width: 200, height: 100}, (x) => fogWidth(x < 100 ? 1 : 6), path);
    expect(Math.min(...xs)).toBeGreaterThan(96);
  });
});

describe('a correction', () => {
  it('is shown whole where it is known and not at all where it is a guess', () => {
    expect(shrink(1)).toBe(1);
    expect(shrink(1.2)).toBe(1);
    expect(shrink(3.2)).toBeCloseTo(0.5, 10);
    expect(shrink(5.2)).toBe(0);
    expect(shrink(20)).toBe(0);
  });
});
