// Fog: how the standard deviation becomes hatch. Lines at 45 degrees whose width follows what is not known; none where it
// is clear. sd is in % of the value, one standard deviation.

/// Width of a hatch line [px] where the pitch is 4.4 px: none below 1.52, full from 8.6 on.
export function fogWidth(sd: number): number {
  if (!(sd > 0)) return 0;
  const t = Math.min(1, Math.max(0, (Math.log2(sd) - 0.6) / 2.45));
  return t === 0 ? 0 : 0.2 + 1.3 * t ** 1.3;
}

/// fogWidth() over many samples: by a table of steps of 0.01 %, which change a line by less than 0.02 px.
const kSteps = 900;
const widths = Float32Array.from({length: kSteps + 1}, (_, k) => fogWidth(k / 100));
export function fogWidths(sd: ArrayLike<number>): Float32Array {
  const out = new Float32Array(sd.length);
  for (let k = 0; k < sd.length; ++k) {
    const at = Math.round(sd[k]! * 100);
    out[k] = at > 0 ? widths[at < kSteps ? at : kSteps]! : 0;
  }
  return out;
}

export interface Box {
  left: number;
  top: number;
  width: number;
  height: number;
}

export const kPitch = 4.4;
const kStep = 4;
/// A width that changes by less than this [px] is not worth a corner of the polygon.
const kCorner = 0.08;

export interface Path {
  moveTo(x: number, y: number): void;
  lineTo(x: number, y: number): void;
  closePath(): void;
}

// Corners of the band that is being made: place along the line and width there.
const corner = new Float64Array(8192);

/// Every hatch line of the box as closed polygons; `widthAt` is asked in pixels of the box. Returns how many were made.
export function fogLines(box: Box, widthAt: (x: number, y: number) => number, path: Path, pitch = kPitch): number {
  const apart = pitch * Math.SQRT2, along = kStep / Math.SQRT2;
  const right = box.left + box.width, bottom = box.top + box.height;
  let made = 0;
  for (let sum = Math.ceil((box.left + box.top) / apart) * apart; sum < right + bottom; sum += apart) {
    // On the line x + y = sum, from lower left to upper right.
    const to = Math.min(right, sum - box.top);
    let n = 0, last = 0, x = Math.max(box.left, sum - bottom), beforeX = x, beforeW = 0;
    for (;;) {
      const w = widthAt(x, sum - x);
      if (w === 0) {
        if (n > 0) {
          corner[n++] = beforeX;
          corner[n++] = beforeW;
          made += band(n, sum, path);
          n = 0;
        }
      } else if (n === 0 || w - last > kCorner || last - w > kCorner || x >= to) {
        corner[n++] = x;
        corner[n++] = w;
        last = w;
      }
      if (x >= to || n > 8188) break;
      beforeX = x;
      beforeW = w;
      x = Math.min(to, x + along);
    }
    if (n > 2) made += band(n, sum, path);
  }
  return made;
}

function band(n: number, sum: number, path: Path): number {
  const h = Math.SQRT1_2 / 2;  // half the width, over both components of the normal
  path.moveTo(corner[0]! - corner[1]! * h, sum - corner[0]! - corner[1]! * h);
  for (let k = 2; k < n; k += 2) path.lineTo(corner[k]! - corner[k + 1]! * h, sum - corner[k]! - corner[k + 1]! * h);
  for (let k = n - 2; k >= 0; k -= 2) path.lineTo(corner[k]! + corner[k + 1]! * h, sum - corner[k]! + corner[k + 1]! * h);
  path.closePath();
  return 1;
}
