// The rule that turns a standard deviation into hatch, against the figures written down with it.
import {describe, expect, it} from 'vitest';
import {fogLines, fogWidth, fogWidths, kPitch} from '../chart/fog.ts';
import {coverage, hatch} from '../chart/fog_pixels.ts';
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

describe('fog as pixels', () => {
  const drawn = (density: number, sd: number): Uint32Array => {
    const box = {left: 46, top: 10, width: 300, height: 200};
    const out = new Uint32Array(300 * density * 200 * density);
    const width = {nx: 4, ny: 3, v: new Float32Array(12).fill(fogWidth(sd))};
    hatch(out, 300 * density, 200 * density, 46 * density, 10 * density, density, width, box, [1, 2, 3]);
    return out;
  };

  it('covers as much as the lines do, at any density of the screen', () => {
    for (const density of [1, 2]) {
      for (const sd of [2, 4, 8]) {
        const ink = drawn(density, sd).reduce((a, p) => a + (p >>> 24), 0) / 255 / (300 * 200 * density * density);
        expect(ink).toBeCloseTo(fogWidth(sd) / kPitch, 2);
      }
    }
    expect(drawn(1, 1).some((p) => p !== 0)).toBe(false);
  });

  it('lies on the same lines as the path: x + y a multiple of the pitch along a diagonal', () => {
    const out = drawn(2, 8), apart = kPitch * Math.SQRT2;
    let far = 0;
    out.forEach((p, k) => {
      if (p >>> 24 < 200) return;
      const sum = (46 * 2 + (k % 600) + 0.5 + 10 * 2 + Math.floor(k / 600) + 0.5) / 2;
      far = Math.max(far, Math.abs(sum - Math.round(sum / apart) * apart) / Math.SQRT2);
    });
    expect(far).toBeGreaterThan(0);
    expect(far).toBeLessThan(fogWidth(8) / 2);
  });

  it('of a pixel is what lies over it', () => {
    expect(coverage(0.4, 0)).toBeCloseTo(0.4, 12);
    expect(coverage(3, 0)).toBe(1);
    expect(coverage(2, 1)).toBeCloseTo(0.5, 12);
    expect(coverage(1, 1.1)).toBe(0);
  });

  it('takes widths from a table that is as good as the rule', () => {
    const sd = Array.from({length: 2000}, (_, k) => k / 50);
    fogWidths(sd).forEach((w, k) => {
      // At its thin end the line begins with 0.2 px: within half a step of 1.516 % either may be drawn.
      if (Math.abs(sd[k]! - 1.516) > 0.01) expect(Math.abs(w - fogWidth(sd[k]!))).toBeLessThan(0.02);
    });
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
