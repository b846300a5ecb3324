// What lies at the bottom of the terrain chart: wash, fog, track, contours, nodes, border. It is the dear part of a drawing and
// the same in a page and in a worker.

import {figure} from '../lib/number.ts';
import {contours, thinned} from './contours.ts';
import {sample, shrink, type Field, type Samples} from './field.ts';
import {fogWidths, type Box} from './fog.ts';
import {drawFog} from './fog_pixels.ts';
import {drawFrame, kFont, xOf, yOf} from './frame.ts';
import {kFullWash, onRamp, rgb, type Ink, type Rgb} from './ink.ts';
import {KeepOut, placeLabel, type Spot} from './labels.ts';
import {drawNodes, drawTracks} from './marks.ts';
import {newCanvas, penOn, type Canvas, type Pen} from './pen.ts';
import {reachAt, type Scene} from './scene.ts';

/// What of a scene the ground shows.
export type GroundScene = Omit<Scene, 'section' | 'cursor'>;


const kNx = 170, kNy = 110;
/// A contour is dashed, "approximate", where the standard deviation [%] is above this.
const kApproximate = 3;

export interface Layout {
  box: Box;
  width: number;
  height: number;
  small?: boolean;
}

/// The plot inside a canvas of this size: room for figures on the left and below.
export function layoutOf(width: number, height: number): Layout {
  const left = 46, right = 20, top = 10, bottom = 30;
  return {box: {left, top, width: width - left - right, height: height - top - bottom}, width, height};
}

interface Ready {
  sd: Samples | null;
  fog: Samples | null;
  correction: Samples | null;
  surface: Samples;
}

function prepare(scene: GroundScene): Ready {
  const on = (v: readonly number[]): Field => ({x: scene.x, y: scene.y, v});
  const sd = scene.sd ? sample(on(scene.sd.map((s) => Math.min(s, 40))), kNx, kNy) : null;
  const correction = scene.correction ? sample(on(scene.correction), kNx, kNy) : null;
  const surface = sample(on(scene.values), kNx, kNy);
  if (correction && sd) {
    for (let k = 0; k < surface.v.length; ++k) surface.v[k]! *= 1 + shrink(sd.v[k]!) * correction.v[k]!;
  }
  const fog = sd ? {nx: kNx, ny: kNy, v: fogWidths(sd.v)} : null;
  return {sd, fog, correction, surface};
}

/// Reads samples at a place of the box in px.
function reader(s: Samples, box: Box): (px: number, py: number) => number {
  const {nx, ny, v} = s;
  const fx = (nx - 1) / box.width, fy = (ny - 1) / box.height, bottom = box.top + box.height;
  return (px, py) => {
    const a = Math.min(nx - 1.0001, Math.max(0, (px - box.left) * fx));
    const b = Math.min(ny - 1.0001, Math.max(0, (bottom - py) * fy));
    const i = a | 0, j = b | 0, t = a - i, u = b - j, k = j * nx + i;
    return (v[k]! * (1 - t) + v[k + 1]! * t) * (1 - u) + (v[k + nx]! * (1 - t) + v[k + nx + 1]! * t) * u;
  };
}

/// Paints the whole of a canvas; the boxes that figures laid over it keep out of come back.
export function paintGround(c: Pen, scene: GroundScene, layout: Layout, ink: Ink): KeepOut {
  const {box} = layout;
  c.fillStyle = ink.paper;
  c.fillRect(0, 0, layout.width, layout.height);
  const ready = prepare(scene);
  c.save();
  c.beginPath();
  c.rect(box.left, box.top, box.width, box.height);
  c.clip();
  drawWash(c, ready, box, ink);
  if (ready.fog) drawFog(c, ready.fog, box, rgb(ink.fog));
  drawTracks(c, scene, box, ink);
  const keep = new KeepOut();
  for (const f of scene.flags) keep.add(xOf(box, scene.xScale, f.x) + 10, yOf(box, scene.yScale, f.y) - 16, 22, 26);
  drawContours(c, scene, ready, box, ready.sd ? reader(ready.sd, box) : () => 0, keep, ink);
  coverBeyondReach(c, scene, box, ink);
  c.restore();
  drawReach(c, scene, box, ink);
  drawNodes(c, scene, box, ink);
  drawFrame(c, box, scene.xScale, scene.yScale, ink);
  return keep;
}

/// Nothing is drawn where full throttle does not reach. Covered at the end: a clip along a slanted edge makes every stroke dear.
function coverBeyondReach(c: Pen, scene: GroundScene, box: Box, ink: Ink): void {
  if (!scene.reach) return;
  c.fillStyle = ink.paper;
  c.beginPath();
  c.moveTo(box.left, box.top);
  for (let px = 0; px <= box.width; px += 4) {
    const x = scene.xScale.low + (px / box.width) * (scene.xScale.high - scene.xScale.low);
    c.lineTo(box.left + px, Math.max(box.top, yOf(box, scene.yScale, reachAt(scene, x))));
  }
  c.lineTo(box.left + box.width, box.top);
  c.closePath();
  c.fill();
}

function drawReach(c: Pen, scene: GroundScene, box: Box, ink: Ink): void {
  if (!scene.reach) return;
  c.save();
  c.beginPath();
  c.rect(box.left, box.top, box.width, box.height);
  c.clip();
  c.beginPath();
  for (let px = 0; px <= box.width; px += 4) {
    const x = scene.xScale.low + (px / box.width) * (scene.xScale.high - scene.xScale.low);
    const y = yOf(box, scene.yScale, reachAt(scene, x));
    if (px === 0) c.moveTo(box.left, y);
    else c.lineTo(box.left + px, y);
  }
  c.strokeStyle = ink.ink2;
  c.lineWidth = 1;
  c.stroke();
  const y = yOf(box, scene.yScale, reachAt(scene, scene.xScale.high));
  if (y - box.top > 16) {
    c.font = `italic 500 13px ${kFont}`;
    c.textAlign = 'right';
    c.fillStyle = ink.ink2;
    c.fillText('above full throttle', box.left + box.width - 8, y - 5);
  }
  c.restore();
}

const kHalf = 128;

/// The diverging ramp in 2 * kHalf + 1 colours, and what known ground is lighter than paper.
function washRamp(ink: Ink): {colours: Float32Array; lift: Rgb} {
  const stops = ink.diverging.map(rgb), paper = rgb(ink.paper), ground = rgb(ink.ground);
  const colours = new Float32Array(3 * (2 * kHalf + 1));
  for (let k = 0; k <= 2 * kHalf; ++k) colours.set(onRamp(stops, k / (2 * kHalf)), 3 * k);
  return {colours, lift: [ground[0] - paper[0], ground[1] - paper[1], ground[2] - paper[2]]};
}

let washCanvas: Canvas | null = null;

function drawWash(c: Pen, ready: Ready, box: Box, ink: Ink): void {
  if (!ready.correction && ink.ground === ink.paper) return;
  const canvas = (washCanvas ??= newCanvas(kNx, kNy));
  const w = penOn(canvas);
  const image = w.createImageData(kNx, kNy);
  const ramp = washRamp(ink);
  const d = image.data;
  for (let j = 0; j < kNy; ++j) {
    let at = (kNy - 1 - j) * kNx * 4;
    for (let k = j * kNx, end = k + kNx; k < end; ++k, at += 4) {
      const known = ready.sd ? shrink(ready.sd.v[k]!) : 1;
      const share = ready.correction ? known * ready.correction.v[k]! / kFullWash : 0;
      const stop = 3 * Math.round(Math.min(1, Math.max(-1, share)) * kHalf + kHalf);
      const rest = known * Math.max(0, 1 - Math.abs(share));
      d[at] = ramp.colours[stop]! + ramp.lift[0] * rest;
      d[at + 1] = ramp.colours[stop + 1]! + ramp.lift[1] * rest;
      d[at + 2] = ramp.colours[stop + 2]! + ramp.lift[2] * rest;
      d[at + 3] = 255;
    }
  }
  w.putImageData(image, 0, 0);
  c.imageSmoothingEnabled = true;
  c.imageSmoothingQuality = 'low';  // between two samples a straight line, as the table itself is read
  // A sample stands in the middle of its pixel: the outer half pixels lie outside the box.
  c.drawImage(canvas, 0.5, 0.5, kNx - 1, kNy - 1, box.left, box.top, box.width, box.height);
}

function drawContours(c: Pen, scene: GroundScene, ready: Ready, box: Box,
                      sdAt: (x: number, y: number) => number, keep: KeepOut, ink: Ink): void {
  const {step} = scene;
  const fx = box.width / (kNx - 1), fy = box.height / (kNy - 1), bottom = box.top + box.height;
  const ground = {sd: sdAt, fromDriven: driven(scene, box)};
  const labels: {spot: Spot; text: string}[] = [];
  const all: Drawn[] = [];
  for (const {level, lines} of contours(ready.surface, step)) {
    const index = Math.round(level / step) % 2 === 0;
    const text = figure(level, step < 1 ? Math.ceil(-Math.log10(step)) : 0);
    c.font = `600 13px ${kFont}`;
    const width = c.measureText(text).width + 4;
    for (const samples of lines) {
      for (let k = 0; k < samples.length; k += 2) {
        samples[k] = box.left + samples[k]! * fx;
        samples[k + 1] = bottom - samples[k + 1]! * fy;
      }
      // A tenth of a px is not seen; short pieces, so that dashes begin where they must.
      const line = thinned(samples, 0.1, 10);
      const spot = index ? placeLabel(line, width, box, ground, keep) : null;
      if (spot) labels.push({spot, text});
      all.push({line, index, spot, pen: penOf(line, spot, sdAt)});
    }
  }
  c.lineJoin = 'round';
  // A casing of paper keeps the lines readable on wash and track.
  c.strokeStyle = ink.paper;
  c.globalAlpha = 0.55;
  strokeAll(c, all, (index) => (index ? 3.4 : 0), [kWhole | kDashed], false);
  c.globalAlpha = 1;
  c.strokeStyle = ink.contour;
  strokeAll(c, all, (index) => (index ? 1.5 : 0.8), [kWhole, kDashed], true);
  for (const {spot, text} of labels) drawLabel(c, spot, text, ink);
}

const kUp = 0, kWhole = 1, kDashed = 2;

interface Drawn {
  line: Float32Array;
  index: boolean;
  spot: Spot | null;
  /// Of each piece: not drawn (the figure stands there), whole, or dashed.
  pen: Uint8Array;
}

function penOf(line: Float32Array, spot: Spot | null, sdAt: (x: number, y: number) => number): Uint8Array {
  const pen = new Uint8Array(line.length / 2);
  const gap = spot ? (spot.width / 2 + 1) ** 2 : 0;
  for (let k = 0; 2 * k + 3 < line.length; ++k) {
    const x = (line[2 * k]! + line[2 * k + 2]!) / 2, y = (line[2 * k + 1]! + line[2 * k + 3]!) / 2;
    const hidden = spot !== null && (x - spot.x) ** 2 + (y - spot.y) ** 2 < gap;
    pen[k] = hidden ? kUp : sdAt(x, y) > kApproximate ? kDashed : kWhole;
  }
  return pen;
}

/// Strokes known pieces whole and approximate ones dashed.
function strokeAll(c: Pen, all: readonly Drawn[], width: (index: boolean) => number,
                   pens: readonly number[], dash: boolean): void {
  for (const pen of pens) {
    for (const index of [false, true]) {
      if (width(index) === 0) continue;
      c.lineWidth = width(index);
      c.setLineDash(dash && pen === kDashed ? [7, 4] : []);
      c.beginPath();
      for (const one of all) {
        if (one.index === index) tracePieces(c, one, pen);
      }
      c.stroke();
    }
  }
  c.setLineDash([]);
}

function tracePieces(c: Pen, one: Drawn, wanted: number): void {
  const {line, pen} = one;
  let down = false;
  for (let k = 0; 2 * k + 3 < line.length; ++k) {
    if ((pen[k]! & wanted) === 0) {
      down = false;
      continue;
    }
    if (!down) c.moveTo(line[2 * k]!, line[2 * k + 1]!);
    c.lineTo(line[2 * k + 2]!, line[2 * k + 3]!);
    down = true;
  }
}

function drawLabel(c: Pen, spot: Spot, text: string, ink: Ink): void {
  c.save();
  c.translate(spot.x, spot.y);
  c.rotate(spot.angle);
  c.font = `600 13px ${kFont}`;
  c.textAlign = 'center';
  c.textBaseline = 'middle';
  c.lineWidth = 3;
  c.strokeStyle = ink.paper;
  c.strokeText(text, 0, 0);
  c.fillStyle = ink.contour;
  c.fillText(text, 0, 0);
  c.restore();
}

/// Distance to the nearest driven place [px], on a coarse lattice.
function driven(scene: GroundScene, box: Box): (x: number, y: number) => number {
  const xs: number[] = [], ys: number[] = [];
  for (const t of scene.tracks) {
    const every = Math.max(1, Math.floor((t.x.length * scene.tracks.length) / 160));
    for (let k = 0; k < t.x.length; k += every) {
      const x = t.x[k], y = t.y[k];
      if (x == null || y == null) continue;
      xs.push(xOf(box, scene.xScale, x));
      ys.push(yOf(box, scene.yScale, y));
    }
  }
  if (xs.length === 0) return () => 0;
  return (x, y) => {
    let least = Infinity;
    for (let k = 0; k < xs.length; ++k) {
      const d = (xs[k]! - x) ** 2 + (ys[k]! - y) ** 2;
      if (d < least) least = d;
    }
    return Math.sqrt(least);
  };
}

