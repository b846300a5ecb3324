// Contour lines against shapes whose contours are known by geometry.
import {describe, expect, it} from 'vitest';
import {contour, contours, thinned} from '../chart/contours.ts';
import {sample, type Samples} from '../chart/field.ts';

function samples(nx: number, ny: number, f: (i: number, j: number) => number): Samples {
  const v = new Float32Array(nx * ny);
  for (let j = 0; j < ny; ++j) for (let i = 0; i < nx; ++i) v[j * nx + i] = f(i, j);
  return {nx, ny, v};
}

const lengthOf = (line: Float32Array): number => {
  let sum = 0;
  for (let k = 2; k < line.length; k += 2) sum += Math.hypot(line[k]! - line[k - 2]!, line[k + 1]! - line[k - 1]!);
  return sum;
};

describe('a contour line', () => {
  it('of a cone is one closed circle', () => {
    const s = samples(81, 81, (i, j) => Math.hypot(i - 40.2, j - 39.7));
    const lines = contour(s, 20);
    expect(lines).toHaveLength(1);
    const line = lines[0]!;
    expect([line[0], line[1]]).toEqual([line.at(-2), line.at(-1)]);
    // Circumference of a circle of radius 20; a polygon of chords of about one sample is shorter by less than 0.1 %.
    expect(lengthOf(line)).toBeCloseTo(2 * Math.PI * 20, 0);
    for (let k = 0; k < line.length; k += 2) expect(Math.hypot(line[k]! - 40.2, line[k + 1]! - 39.7)).toBeCloseTo(20, 1);
  });

  it('of a plane is straight and runs from edge to edge', () => {
    const lines = contour(samples(11, 6, (i, j) => 2 * i + j), 10.5);
    expect(lines).toHaveLength(1);
    for (let k = 0; k < lines[0]!.length; k += 2) expect(2 * lines[0]![k]! + lines[0]![k + 1]!).toBeCloseTo(10.5, 5);
    const ys = [lines[0]![1]!, lines[0]!.at(-1)!].sort();
    expect(ys).toEqual([0, 5]);
  });

  it('parts at a saddle by the mean of the four corners and never crosses itself', () => {
    // z = (i - 0.5)(j - 0.5) on one cell: corners 0.25, -0.25, 0.25, -0.25, mean 0.
    const s = samples(2, 2, (i, j) => (i - 0.5) * (j - 0.5));
    const low = contour(s, 0.1), high = contour(s, -0.1);
    expect(low).toHaveLength(2);
    expect(high).toHaveLength(2);
    // Above the mean the high corners (lower left, upper right) are cut off one by one, below it the low corners.
    for (const line of low) {
      const sum = (line[0]! + line[1]! + line[2]! + line[3]!) / 2;
      expect(Math.abs(sum - 1)).toBeGreaterThan(0.5);
    }
    for (const line of high) {
      const sum = (line[0]! + line[1]! + line[2]! + line[3]!) / 2;
      expect(Math.abs(sum - 1)).toBeLessThan(0.5);
    }
  });

  it('is never lost: every crossing of a cell edge is on exactly one line', () => {
    let seed = 7;
    const chance = (): number => (seed = (seed * 48271) % 2147483647) / 2147483647;
    const s = samples(30, 20, () => chance());
    const lines = contour(s, 0.5);
    let crossings = 0;
    for (let j = 0; j < 20; ++j) {
      for (let i = 0; i < 30; ++i) {
        const a = s.v[j * 30 + i]! > 0.5;
        if (i < 29 && a !== s.v[j * 30 + i + 1]! > 0.5) ++crossings;
        if (j < 19 && a !== s.v[(j + 1) * 30 + i]! > 0.5) ++crossings;
      }
    }
    let points = 0;
    for (const l of lines) {
      const closed = l[0] === l.at(-2) && l[1] === l.at(-1);
      points += l.length / 2 - (closed ? 1 : 0);
    }
    expect(points).toBe(crossings);
  });

  it('is drawn at every multiple of the step within the surface, as it is drawn alone', () => {
    expect(contours(samples(3, 3, (i, j) => 41 + 5 * i + j), 5).map((c) => c.level)).toEqual([45, 50]);
    const s = samples(40, 30, (i, j) => 50 + 30 * Math.sin(i / 5) * Math.cos(j / 7));
    const all = contours(s, 5);
    expect(all).toHaveLength(11);  // 25 to 75, the ends themselves are hardly reached
    for (const {level, lines} of all) expect(lines).toEqual(contour(s, level));
  });
});

describe('a line with fewer points', () => {
  it('goes where the line went, and keeps its ends', () => {
    const circle = Float32Array.from({length: 2 * 721}, (_, k) => 100 + 50 * (k % 2 ? Math.sin : Math.cos)(Math.floor(k / 2) * Math.PI / 360));
    const few = thinned(circle.slice(), 0.1, 10);
    // A chord of length s leaves a circle of radius r by s²/8r: 6.3 px for 0.1 px of 50, so fifty points are enough.
    expect(few.length / 2).toBeLessThan(70);
    expect(few.length / 2).toBeGreaterThan(45);
    expect([few[0], few[1]]).toEqual([circle[0], circle[1]]);
    expect([few.at(-2), few.at(-1)]).toEqual([circle.at(-2), circle.at(-1)]);
    for (let k = 2; k < few.length; k += 2) {
      const mx = (few[k]! + few[k - 2]!) / 2 - 100, my = (few[k + 1]! + few[k - 1]!) / 2 - 100;
      expect(Math.abs(Math.hypot(mx, my) - 50)).toBeLessThan(0.11);
    }
  });

  it('is cut into short pieces where it is straight', () => {
    const straight = Float32Array.from({length: 2 * 101}, (_, k) => (k % 2 ? 3 : k / 2));
    expect(Array.from(thinned(straight, 0.1, 10)).filter((_, k) => k % 2 === 0)).toEqual([0, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100]);
  });
});

describe('a field between its nodes', () => {
  it('is the bilinear surface of the nodes, held at the edge', () => {
    const s = sample({x: [0, 1, 3], y: [0, 2], v: [0, 1, 3, 4, 5, 7]}, 4, 3);  // x + 2y on uneven nodes
    for (let j = 0; j < 3; ++j) for (let i = 0; i < 4; ++i) expect(s.v[j * 4 + i]).toBeCloseTo(i + 2 * j, 6);
  });
});
