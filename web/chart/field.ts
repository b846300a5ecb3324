// A surface over the nodes of a table, read between them bilinearly; held at the edge value outside (the table's own edge
// rule, docs/decisions/0004). Arrays run [y][x], row-major.

export interface Field {
  readonly x: ArrayLike<number>;
  readonly y: ArrayLike<number>;
  readonly v: ArrayLike<number>;
}

/// Index of the interval that holds `q`, and how far into it (0..1).
export function seek(points: ArrayLike<number>, q: number): [index: number, part: number] {
  const last = points.length - 1;
  if (last < 1 || !(q > points[0]!)) return [0, 0];
  if (q >= points[last]!) return [last - 1, 1];
  let low = 0, high = last;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (points[middle]! <= q) low = middle;
    else high = middle;
  }
  return [low, (q - points[low]!) / (points[low + 1]! - points[low]!)];
}

export function read(f: Field, x: number, y: number): number {
  const nx = f.x.length;
  const [i, s] = seek(f.x, x), [j, t] = seek(f.y, y);
  const right = nx > 1 ? 1 : 0, up = f.y.length > 1 ? nx : 0;
  const k = j * nx + i;
  const a = f.v[k]! * (1 - s) + f.v[k + right]! * s;
  const b = f.v[k + up]! * (1 - s) + f.v[k + up + right]! * s;
  return a * (1 - t) + b * t;
}

/// Evenly spaced samples over the whole table: `nx` by `ny`, row 0 lowest load.
export interface Samples {
  readonly nx: number;
  readonly ny: number;
  readonly v: Float32Array;
}

export function sample(f: Field, nx: number, ny: number): Samples {
  const out = new Float32Array(nx * ny), from = Float64Array.from(f.v);
  const w = f.x.length, right = w > 1 ? 1 : 0, up = f.y.length > 1 ? w : 0;
  const [columns, shares] = seekAll(f.x, nx), [rows, parts] = seekAll(f.y, ny);
  let n = 0;
  for (let j = 0; j < ny; ++j) {
    const row = rows[j]! * w, t = parts[j]!;
    for (let i = 0; i < nx; ++i) {
      const k = row + columns[i]!, s = shares[i]!;
      const a = from[k]! + (from[k + right]! - from[k]!) * s;
      const b = from[k + up]! + (from[k + up + right]! - from[k + up]!) * s;
      out[n++] = a + (b - a) * t;
    }
  }
  return {nx, ny, v: out};
}

function seekAll(points: ArrayLike<number>, n: number): [Int32Array, Float64Array] {
  const at = new Int32Array(n), part = new Float64Array(n);
  const low = points[0]!, span = points[points.length - 1]! - low;
  for (let k = 0; k < n; ++k) [at[k], part[k]] = seek(points, low + (span * k) / (n - 1)) as [number, number];
  return [at, part];
}

/// How much of a correction is shown as it is, by its standard deviation [% of the value]: all of it up to 1.2, none
/// from 5.2 up. One rule for wash, contours, grid and captions.
export const shrink = (sd: number): number => Math.min(1, Math.max(0, 1.3 - sd / 4));

/// Index of the node nearest in the picture, where the axes are `px` by `py` screen units long.
export function nearestNode(f: Field, x: number, y: number, px: number, py: number): number {
  const dx = px / (f.x[f.x.length - 1]! - f.x[0]! || 1), dy = py / (f.y[f.y.length - 1]! - f.y[0]! || 1);
  let best = 0, least = Infinity;
  for (let j = 0; j < f.y.length; ++j) {
    for (let i = 0; i < f.x.length; ++i) {
      const d = Math.hypot((f.x[i]! - x) * dx, (f.y[j]! - y) * dy);
      if (d < least) {
        least = d;
        best = j * f.x.length + i;
      }
    }
  }
  return best;
}
