// Contour lines by marching squares: where an evenly sampled surface crosses a level, as polylines in sample coordinates
// (0..nx-1, 0..ny-1). A saddle is split by the mean of its four corners. Pieces are joined by the edge that they share.

import type {Samples} from './field.ts';

/// x, y, x, y, ...
export type Line = Float32Array;

// A horizontal edge has key 2k, a vertical one 2k + 1, where k is its lower or left sample. At most two pieces meet at an
// edge: `links` holds the keys at their other ends, -1 where there is none.
let links = new Int32Array(0);
let used = new Int32Array(0);
let points = new Float32Array(1024);

// Edges of a cell (0 below, 1 right, 2 above, 3 left) by case: bit 0 lower left, 1 lower right, 2 upper right, 3 upper left.
const kFrom = [-1, 3, 0, 3, 1, -1, 0, 3, 2, 0, -1, 1, 1, 0, 3, -1];
const kTo = [-1, 0, 1, 1, 2, -1, 2, 2, 3, 2, -1, 2, 3, 1, 0, -1];

export function contour(s: Samples, level: number): Line[] {
  const {nx, ny, v} = s;
  if (links.length < 4 * nx * ny) {
    links = new Int32Array(4 * nx * ny).fill(-1);
    used = new Int32Array(2 * nx * ny);
  }
  let count = 0;
  const half = (at: number, other: number): void => {
    if (links[2 * at] === -1) {
      links[2 * at] = other;
      used[count++] = at;
    } else {
      links[2 * at + 1] = other;
    }
  };
  const join = (k: number, a: number, b: number): void => {
    const p = a === 0 ? 2 * k : a === 2 ? 2 * (k + nx) : a === 3 ? 2 * k + 1 : 2 * k + 3;
    const q = b === 0 ? 2 * k : b === 2 ? 2 * (k + nx) : b === 3 ? 2 * k + 1 : 2 * k + 3;
    half(p, q);
    half(q, p);
  };
  for (let j = 0; j < ny - 1; ++j) {
    let k = j * nx;
    let left = (v[k]! > level ? 1 : 0) | (v[k + nx]! > level ? 8 : 0);
    for (const end = k + nx - 1; k < end; ++k) {
      const right = (v[k + 1]! > level ? 2 : 0) | (v[k + nx + 1]! > level ? 4 : 0);
      const kind = left | right;
      left = (right & 2 ? 1 : 0) | (right & 4 ? 8 : 0);
      if (kind === 0 || kind === 15) continue;
      if (kind === 5 || kind === 10) {
        const high = (v[k]! + v[k + 1]! + v[k + nx]! + v[k + nx + 1]!) / 4 > level;
        // The corners that are joined through the middle stay on one side of both pieces.
        if ((kind === 5) === high) {
          join(k, 3, 2);
          join(k, 0, 1);
        } else {
          join(k, 3, 0);
          join(k, 1, 2);
        }
        continue;
      }
      join(k, kFrom[kind]!, kTo[kind]!);
    }
  }
  return walk(s, level, count);
}

function walk(s: Samples, level: number, count: number): Line[] {
  const lines: Line[] = [];
  // Open ends first, then what is closed.
  for (const closed of [false, true]) {
    for (let n = 0; n < count; ++n) {
      const key = used[n]!;
      if (links[2 * key] !== -1 && (links[2 * key + 1] !== -1) === closed) lines.push(follow(s, level, key));
    }
  }
  return lines;
}

function follow(s: Samples, level: number, start: number): Line {
  let n = place(s, level, start, 0), at = start;
  for (;;) {
    let next = links[2 * at + 1]!;
    if (next !== -1) {
      links[2 * at + 1] = -1;
    } else {
      next = links[2 * at]!;
      links[2 * at] = -1;
    }
    if (next === -1) break;
    // Take the same piece off its other end.
    if (links[2 * next] === at) {
      links[2 * next] = links[2 * next + 1]!;
      links[2 * next + 1] = -1;
    } else {
      links[2 * next + 1] = -1;
    }
    n = place(s, level, next, n);
    at = next;
  }
  return points.slice(0, n);
}

function place(s: Samples, level: number, key: number, n: number): number {
  const {nx, v} = s;
  const k = key >> 1, upright = key & 1;
  const a = v[k]!, b = v[upright ? k + nx : k + 1]!;
  const t = b === a ? 0.5 : (level - a) / (b - a);
  const i = k % nx, j = (k - i) / nx;
  if (n + 2 > points.length) {
    const longer = new Float32Array(points.length * 2);
    longer.set(points);
    points = longer;
  }
  points[n] = upright ? i : i + t;
  points[n + 1] = upright ? j + t : j;
  return n + 2;
}

/// The levels that lie within the samples, multiples of `step`.
export function levels(s: Samples, step: number): number[] {
  let low = Infinity, high = -Infinity;
  for (let k = 0; k < s.v.length; ++k) {
    const v = s.v[k]!;
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const out: number[] = [];
  for (let k = Math.ceil(low / step); k * step <= high; ++k) out.push(k * step);
  return out;
}
