// Where a contour may carry its figure: on its straightest, best known piece near the driven part, apart from the other
// figures and from what must stay readable.

export interface Spot {
  x: number;
  y: number;
  angle: number;  // of the text, never upside down
  width: number;
}

export interface Ground {
  /// Standard deviation there [%].
  sd(x: number, y: number): number;
  /// Distance to what was driven [px], 0 where nothing was.
  fromDriven(x: number, y: number): number;
}

const kApart = 70, kAlong = 10;

export type Boxes = readonly {x: number; y: number; rx: number; ry: number}[];

/// Boxes that labels keep out of, and that grow as labels are set.
export class KeepOut {
  private readonly boxes: Boxes[number][];
  constructor(boxes: Boxes = []) {
    this.boxes = boxes.slice();
  }
  all(): Boxes {
    return this.boxes;
  }
  copy(): KeepOut {
    return new KeepOut(this.boxes);
  }
  add(x: number, y: number, rx: number, ry = rx): void {
    this.boxes.push({x, y, rx, ry});
  }
  free(x: number, y: number, r: number): boolean {
    return this.boxes.every((b) => Math.abs(b.x - x) > b.rx + r || Math.abs(b.y - y) > b.ry + r);
  }
}

/// The best place of one line (x, y, x, y ... in px) for a figure `width` wide; null if it has none.
export function placeLabel(line: ArrayLike<number>, width: number, box: {left: number; top: number; width: number; height: number},
                           ground: Ground, keep: KeepOut): Spot | null {
  const n = line.length / 2;
  const far: number[] = [0];
  for (let k = 1; k < n; ++k) {
    far.push(far[k - 1]! + Math.hypot(line[2 * k]! - line[2 * k - 2]!, line[2 * k + 1]! - line[2 * k - 1]!));
  }
  const length = far[n - 1]!;
  if (length < width * 2.5) return null;
  let best: Spot | null = null, least = Infinity;
  let k = 0;
  for (let s = width; s <= length - width; s += kAlong) {
    while (k < n - 2 && far[k + 1]! < s) ++k;
    const a = pointAt(line, far, s - width / 2), m = pointAt(line, far, s), b = pointAt(line, far, s + width / 2);
    const x = m[0], y = m[1];
    if (x - width / 2 < box.left + 6 || x + width / 2 > box.left + box.width - 6) continue;
    if (y < box.top + 14 || y > box.top + box.height - 12) continue;
    if (!keep.free(x, y, width / 2 + 4)) continue;
    const chord = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const bend = (width - chord) * 10;
    const cost = bend + 1.6 * Math.min(12, ground.sd(x, y)) + ground.fromDriven(x, y) / 60;
    if (cost < least) {
      least = cost;
      let angle = Math.atan2(b[1] - a[1], b[0] - a[0]);
      if (angle > Math.PI / 2) angle -= Math.PI;
      if (angle < -Math.PI / 2) angle += Math.PI;
      best = {x, y, angle, width};
    }
  }
  if (best) keep.add(best.x, best.y, kApart / 2, kApart / 3);
  return best;
}

function pointAt(line: ArrayLike<number>, far: readonly number[], s: number): [number, number] {
  let low = 0, high = far.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (far[middle]! <= s) low = middle;
    else high = middle;
  }
  const t = Math.min(1, Math.max(0, (s - far[low]!) / (far[high]! - far[low]! || 1)));
  return [line[2 * low]! + (line[2 * high]! - line[2 * low]!) * t,
          line[2 * low + 1]! + (line[2 * high + 1]! - line[2 * low + 1]!) * t];
}
