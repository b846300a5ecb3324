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

export interface Contour {
  level: number;
  lines: Line[];
}

/// Every multiple of `step` that the samples cross, lowest first. The cells are gone through once, however many levels there are.
export function contours(s: Samples, step: number): Contour[] {
  const {nx, ny, v} = s;
  // A sample lies above level k * step if its rank is above k.
  const rank = new Int32Array(nx * ny);
  for (let k = 0; k < rank.length; ++k) rank[k] = Math.ceil(v[k]! / step);
  const cells = new Map<number, number[]>();
  for (let j = 0; j < ny - 1; ++j) {
    for (let k = j * nx, end = k + nx - 1; k < end; ++k) {
      const a = rank[k]!, b = rank[k + 1]!, c = rank[k + nx]!, d = rank[k + nx + 1]!;
      if (a === b && a === c && a === d) continue;
      const low = Math.min(a, b, c, d), high = Math.max(a, b, c, d);
      for (let level = low; level < high; ++level) {
        const list = cells.get(level);
        if (list) list.push(k);
        else cells.set(level, [k]);
      }
    }
  }
  return [...cells.keys()].sort((a, b) => a - b).map((n) => ({level: n * step, lines: trace(s, n * step, rank, n, cells.get(n)!)}));
}

/// One level.
export function contour(s: Samples, level: number): Line[] {
  const {nx, ny, v} = s;
  const over = Int32Array.from(v, (value) => (value > level ? 1 : 0)), cells: number[] = [];
  for (let j = 0; j < ny - 1; ++j) for (let k = j * nx; k < j * nx + nx - 1; ++k) cells.push(k);
  return trace(s, level, over, 0, cells);
}

let count = 0;

function half(at: number, other: number): void {
  if (links[2 * at] === -1) {
    links[2 * at] = other;
    used[count++] = at;
  } else {
    links[2 * at + 1] = other;
  }
}

/// A piece of line from edge `a` of cell `k` to edge `b`.
function join(k: number, nx: number, a: number, b: number): void {
  const p = a === 0 ? 2 * k : a === 2 ? 2 * (k + nx) : a === 3 ? 2 * k + 1 : 2 * k + 3;
  const q = b === 0 ? 2 * k : b === 2 ? 2 * (k + nx) : b === 3 ? 2 * k + 1 : 2 * k + 3;
  half(p, q);
  half(q, p);
}

function trace(s: Samples, level: number, rank: Int32Array, n: number, cells: readonly number[]): Line[] {
  const {nx, ny, v} = s;
  if (links.length < 4 * nx * ny) {
    links = new Int32Array(4 * nx * ny).fill(-1);
    used = new Int32Array(2 * nx * ny);
  }
  count = 0;
  for (const k of cells) {
    const kind = (rank[k]! > n ? 1 : 0) | (rank[k + 1]! > n ? 2 : 0) | (rank[k + nx + 1]! > n ? 4 : 0) | (rank[k + nx]! > n ? 8 : 0);
    if (kind === 0 || kind === 15) continue;
    if (kind === 5 || kind === 10) {
      const high = (v[k]! + v[k + 1]! + v[k + nx]! + v[k + nx + 1]!) / 4 > level;
      // The corners that are joined through the middle stay on one side of both pieces.
      const together = (kind === 5) === high;
      join(k, nx, 3, together ? 2 : 0);
      join(k, nx, together ? 0 : 1, together ? 1 : 2);
      continue;
    }
    join(k, nx, kFrom[kind]!, kTo[kind]!);
  }
  return walk(s, level);
}

function walk(s: Samples, level: number): Line[] {
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

/// Leaves out points that lie nearer than `off` to the line through what is kept, in place; no piece gets longer than `longest`.
/// Returns the part of the array that is left.
export function thinned(line: Line, off: number, longest: number): Line {
  const n = line.length / 2;
  if (n < 3) return line;
  let kept = 1, ax = line[0]!, ay = line[1]!, first = 1;
  for (let k = 1; k < n - 1; ++k) {
    const bx = line[2 * k + 2]!, by = line[2 * k + 3]!, dx = bx - ax, dy = by - ay, length = Math.hypot(dx, dy);
    let straight = length <= longest;
    // All that was left out since the last point that was kept, not only this one.
    for (let m = first; straight && m <= k; ++m) {
      straight = Math.abs((line[2 * m]! - ax) * dy - (line[2 * m + 1]! - ay) * dx) <= off * length;
    }
    if (straight) continue;
    ax = line[2 * k]!;
    ay = line[2 * k + 1]!;
    line[2 * kept] = ax;
    line[2 * kept + 1] = ay;
    ++kept;
    first = k + 1;
  }
  line[2 * kept] = line[2 * n - 2]!;
  line[2 * kept + 1] = line[2 * n - 1]!;
  return line.subarray(0, 2 * (kept + 1));
}
