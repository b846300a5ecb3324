// The fog of fog.ts as pixels: the same lines at 45 degrees, each pixel covered by as much as the line covers of it. A path of
// thousands of polygons costs a software canvas forty milliseconds, this one or two; paths remain for print and small patches.

import type {Samples} from './field.ts';
import {kPitch, type Box} from './fog.ts';
import {newCanvas, penOn, type Canvas, type Pen} from './pen.ts';

let canvas: Canvas | null = null, image: ImageData | null = null;

/// Draws the hatch of `box` (CSS px of `c`) in one colour; `width` has the line width [px] over the box, row 0 at the bottom.
export function drawFog(c: Pen, width: Samples, box: Box, colour: readonly [number, number, number]): void {
  const density = c.getTransform().a;
  const x0 = Math.floor(box.left * density), y0 = Math.floor(box.top * density);
  const w = Math.ceil((box.left + box.width) * density) - x0, h = Math.ceil((box.top + box.height) * density) - y0;
  if (w < 1 || h < 1) return;
  const hold = (canvas ??= newCanvas(w, h));
  if (hold.width !== w || hold.height !== h) {
    hold.width = w;
    hold.height = h;
  }
  const g = penOn(hold, {willReadFrequently: true});
  if (image === null || image.width !== w || image.height !== h) image = g.createImageData(w, h);
  else image.data.fill(0);
  hatch(new Uint32Array(image.data.buffer), w, h, x0, y0, density, width, box, colour);
  g.putImageData(image, 0, 0);
  c.save();
  c.setTransform(1, 0, 0, 1, 0, 0);
  c.drawImage(hold, x0, y0);
  c.restore();
}

/// A patch of hatch of one width, `w` by `h` px of the screen, whose corner lies at (x0, y0) there: kept, so that it can be laid
/// wherever a mask goes without being drawn again.
export function patch(w: number, h: number, x0: number, y0: number, density: number, line: number,
                      colour: readonly [number, number, number]): HTMLCanvasElement {
  const key = [w, h, x0, y0, density, line, ...colour].join();
  const there = patches.get(key);
  if (there) return there;
  const canvas = document.createElement('canvas');
  canvas.width = Math.max(1, w);
  canvas.height = Math.max(1, h);
  const g = canvas.getContext('2d')!, image = g.createImageData(canvas.width, canvas.height);
  const box = {left: x0 / density, top: y0 / density, width: w / density, height: h / density};
  hatch(new Uint32Array(image.data.buffer), canvas.width, canvas.height, x0, y0, density,
        {nx: 2, ny: 2, v: new Float32Array(4).fill(line)}, box, colour);
  g.putImageData(image, 0, 0);
  if (patches.size > 24) patches.clear();
  patches.set(key, canvas);
  return canvas;
}

const patches = new Map<string, HTMLCanvasElement>();

/// Of a line `w` wide how much falls on a pixel whose middle is `d` from the line's middle, measured across it.
export function coverage(w: number, d: number): number {
  return Math.max(0, Math.min(w / 2, d + 0.5) - Math.max(-w / 2, d - 0.5));
}

/// Pixels as 32 bits, alpha uppermost (little-endian, as every machine that runs a browser is). Only those near a line are looked at.
export function hatch(out: Uint32Array, w: number, h: number, x0: number, y0: number, density: number, width: Samples, box: Box,
                      colour: readonly [number, number, number]): void {
  const rgb = colour[0] | (colour[1] << 8) | (colour[2] << 16);
  const apart = kPitch * Math.SQRT2 * density;
  // Signed distance of the pixels of one diagonal, x + y = k, to their nearest line.
  const across = new Float32Array(w + h);
  for (let k = 0; k < w + h; ++k) {
    const sum = x0 + y0 + k + 1;
    across[k] = Math.abs(sum - Math.round(sum / apart) * apart) * Math.SQRT1_2;
  }
  let widest = 0;
  for (let k = 0; k < width.v.length; ++k) widest = Math.max(widest, width.v[k]!);
  const reach = (widest * density) / 2 + 0.5;
  // Diagonals that any line touches, in order.
  const near = new Int32Array(w + h);
  let count = 0;
  for (let k = 0; k < w + h; ++k) if (across[k]! < reach) near[count++] = k;

  const {nx, ny, v} = width;
  const column = new Int32Array(w), part = new Float32Array(w), row = new Float32Array(nx + 1);
  for (let x = 0; x < w; ++x) {
    const at = Math.min(nx - 1.001, Math.max(0, (((x0 + x + 0.5) / density - box.left) / box.width) * (nx - 1)));
    column[x] = at | 0;
    part[x] = at - column[x]!;
  }
  let first = 0;
  for (let y = 0; y < h; ++y) {
    const at = Math.min(ny - 1.001, Math.max(0, ((box.top + box.height - (y0 + y + 0.5) / density) / box.height) * (ny - 1)));
    const j = at | 0, t = at - j;
    for (let i = 0, k = j * nx; i < nx; ++i, ++k) row[i] = (v[k]! + (v[k + nx]! - v[k]!) * t) * density;
    row[nx] = row[nx - 1]!;
    while (first < count && near[first]! < y) ++first;
    for (let n = first, base = y * w; n < count; ++n) {
      const x = near[n]! - y;
      if (x >= w) break;
      const i = column[x]!, line = row[i]! + (row[i + 1]! - row[i]!) * part[x]!;
      if (line <= 0) continue;
      const d = across[x + y]!, half = line / 2;
      const covered = (half < d + 0.5 ? half : d + 0.5) - (-half > d - 0.5 ? -half : d - 0.5);
      if (covered > 0) out[base + x] = rgb | ((covered * 255 + 0.5) << 24);
    }
  }
}
