// What stands on the terrain: driven track, nodes by their evidence, corrections at their extremes, section line, flags.

import {signed} from '../lib/number.ts';
import {shrink} from './field.ts';
import type {Box} from './fog.ts';
import {kFont, xOf, yOf} from './frame.ts';
import type {Ink} from './ink.ts';
import type {KeepOut} from './labels.ts';
import {newCanvas, penOn, type Canvas, type Pen} from './pen.ts';
import {reachAt, type Scene} from './scene.ts';

const kPieces = 40;

/// The driven track: thin ink at a quarter of its strength, in short strokes so that what is driven often darkens.
export function drawTracks(c: Pen, scene: Pick<Scene, 'xScale' | 'yScale' | 'tracks'>, box: Box, ink: Ink): void {
  c.save();
  c.strokeStyle = ink.ink;
  c.globalAlpha = 0.24;
  c.lineWidth = 0.7;
  for (const t of scene.tracks) {
    let n = 0, down = false;
    c.beginPath();
    for (let k = 0; k < t.x.length; ++k) {
      const x = t.x[k], y = t.y[k];
      if (x == null || y == null) {
        down = false;
        continue;
      }
      const px = xOf(box, scene.xScale, x), py = yOf(box, scene.yScale, y);
      if (down) c.lineTo(px, py);
      else c.moveTo(px, py);
      down = true;
      if (++n % kPieces === 0) {
        c.stroke();
        c.beginPath();
        c.moveTo(px, py);
      }
    }
    c.stroke();
  }
  c.restore();
}

interface Place {
  x: number;
  y: number;
}

/// A disc where it was measured, a ring where it is inferred, a cross where nothing but the prior tells. All of a kind in one go.
function drawMarks(c: Pen, at: readonly Place[], mark: string, ink: Ink): void {
  const circles = (r: number): void => {
    c.beginPath();
    for (const p of at) {
      c.moveTo(p.x + r, p.y);
      c.arc(p.x, p.y, r, 0, 7);
    }
  };
  if (mark === 'measured') {
    circles(2.4);
    c.fillStyle = ink.paper;
    c.fill();
    circles(1.7);
    c.fillStyle = ink.ink;
    c.fill();
    return;
  }
  c.lineWidth = 0.9;
  if (mark === 'inferred') {
    circles(2);
    c.fillStyle = ink.paper;
    c.fill();
    c.strokeStyle = ink.ink;
    c.stroke();
    return;
  }
  // A cross of two bars: as rectangles, because a thousand short strokes take longer.
  c.fillStyle = ink.ink2;
  for (const p of at) {
    c.fillRect(p.x - 2.2, p.y - 0.45, 4.4, 0.9);
    c.fillRect(p.x - 0.45, p.y - 2.2, 0.9, 4.4);
  }
}

export const drawNode = (c: Pen, x: number, y: number, mark: string, ink: Ink): void =>
    drawMarks(c, [{x, y}], mark, ink);

/// A mark as it is drawn once, laid on whole px wherever a node is: a thousand arcs take longer than all else.
function stampOf(mark: string, density: number, ink: Ink): Canvas {
  const key = [mark, density, ink.paper, ink.ink].join();
  const there = stamps.get(key);
  if (there) return there;
  const size = 2 * Math.ceil(4 * density) + 1;
  const canvas = newCanvas(size, size), g = penOn(canvas);
  g.scale(density, density);
  drawMarks(g, [{x: canvas.width / 2 / density, y: canvas.width / 2 / density}], mark, ink);
  stamps.set(key, canvas);
  return canvas;
}

const stamps = new Map<string, Canvas>();

export function drawNodes(c: Pen, scene: Omit<Scene, 'section' | 'cursor'>, box: Box, ink: Ink): void {
  if (!scene.mark) return;
  const nx = scene.x.length, kinds = new Map<string, Place[]>();
  for (let k = 0; k < scene.mark.length; ++k) {
    const x = scene.x[k % nx]!, y = scene.y[Math.floor(k / nx)]!, mark = scene.mark[k]!;
    if (y > reachAt(scene, x)) continue;
    const of = kinds.get(mark) ?? [];
    of.push({x: xOf(box, scene.xScale, x), y: yOf(box, scene.yScale, y)});
    kinds.set(mark, of);
  }
  const density = c.getTransform().a;
  c.save();
  c.setTransform(1, 0, 0, 1, 0, 0);
  for (const mark of ['prior only', 'inferred', 'measured']) {
    const stamp = stampOf(mark, density, ink), half = stamp.width / 2;
    for (const p of kinds.get(mark) ?? []) c.drawImage(stamp, Math.round(p.x * density - half), Math.round(p.y * density - half));
  }
  c.restore();
}

/// The largest corrections as they are shown, each apart from the others.
export function drawSpotCorrections(c: Pen, scene: Scene, box: Box, keep: KeepOut, ink: Ink): void {
  const {correction, sd} = scene;
  if (!correction || !sd) return;
  const nx = scene.x.length, ny = scene.y.length;
  const shown = correction.map((v, k) => v * shrink(sd[k]!));
  const peaks: number[] = [];
  for (let j = 0; j < ny; ++j) {
    for (let i = 0; i < nx; ++i) {
      const k = j * nx + i, size = Math.abs(shown[k]!);
      if (size < 0.01 || scene.y[j]! > reachAt(scene, scene.x[i]!)) continue;
      let peak = true;
      for (let b = Math.max(0, j - 1); b <= Math.min(ny - 1, j + 1); ++b) {
        for (let a = Math.max(0, i - 1); a <= Math.min(nx - 1, i + 1); ++a) {
          if (Math.sign(shown[b * nx + a]!) === Math.sign(shown[k]!) && Math.abs(shown[b * nx + a]!) > size) peak = false;
        }
      }
      if (peak) peaks.push(k);
    }
  }
  peaks.sort((a, b) => Math.abs(shown[b]!) - Math.abs(shown[a]!));
  c.font = `italic 500 14px ${kFont}`;
  c.textBaseline = 'middle';
  let set = 0;
  for (const k of peaks) {
    if (set === 6) break;
    const x = xOf(box, scene.xScale, scene.x[k % nx]!), y = yOf(box, scene.yScale, scene.y[Math.floor(k / nx)]!);
    const right = x < box.left + box.width - 50;
    const tx = right ? x + 6 : x - 6;
    if (!keep.free(tx + (right ? 16 : -16), y - 9, 15)) continue;
    keep.add(tx + (right ? 16 : -16), y - 9, 30, 14);
    c.textAlign = right ? 'left' : 'right';
    const text = signed(correction[k]! * 100, 1);
    const ty = Math.max(box.top + 10, y - 9);
    c.lineWidth = 3;
    c.lineJoin = 'round';
    c.strokeStyle = ink.paper;
    c.strokeText(text, tx, ty);
    c.fillStyle = ink.ink;
    c.fillText(text, tx, ty);
    ++set;
  }
}

export function drawSectionLine(c: Pen, scene: Scene, box: Box, ink: Ink): void {
  const s = scene.section;
  if (!s) return;
  const ax = xOf(box, scene.xScale, s.x0), ay = yOf(box, scene.yScale, s.y0);
  const bx = xOf(box, scene.xScale, s.x1), by = yOf(box, scene.yScale, s.y1);
  c.save();
  c.lineWidth = 1;
  c.strokeStyle = ink.ink;
  c.setLineDash([14, 4, 2, 4]);
  c.beginPath();
  c.moveTo(ax, ay);
  c.lineTo(bx, by);
  c.stroke();
  c.restore();
}

/// The plan: pennants on staffs in the order of driving, joined by a course line; a sweep or a pull is an arrow.
export function drawFlags(c: Pen, scene: Scene, box: Box, ink: Ink): void {
  if (scene.flags.length === 0) return;
  const at = scene.flags.map((f) => ({
    label: f.label,
    x: xOf(box, scene.xScale, f.x),
    y: yOf(box, scene.yScale, f.y),
    toX: f.toX === null ? null : xOf(box, scene.xScale, f.toX),
  }));
  c.save();
  c.strokeStyle = ink.plan;
  c.fillStyle = ink.plan;
  if (at.length <= 8) courseLine(c, at);
  const staffs: {x: number; y: number}[] = [];
  for (const f of at) {
    if (f.toX !== null) arrow(c, f.x, f.y, f.toX);
    // Flags at one place stand side by side.
    let x = f.x;
    while (staffs.some((o) => Math.abs(o.x - x) < 18 && Math.abs(o.y - f.y) < 14)) x += 19;
    staffs.push({x, y: f.y});
    pennant(c, x, f, ink);
  }
  c.restore();
}

function courseLine(c: Pen, at: readonly {x: number; y: number; toX: number | null}[]): void {
  c.lineWidth = 1.25;
  c.setLineDash([5, 4]);
  c.beginPath();
  for (let k = 1; k < at.length; ++k) {
    c.moveTo(at[k - 1]!.toX ?? at[k - 1]!.x, at[k - 1]!.y);
    c.lineTo(at[k]!.x, at[k]!.y);
  }
  c.stroke();
  c.setLineDash([]);
}

function arrow(c: Pen, x: number, y: number, toX: number): void {
  const way = Math.sign(toX - x) || 1;
  c.lineWidth = 1.5;
  c.beginPath();
  c.moveTo(x, y);
  c.lineTo(toX, y);
  c.moveTo(toX - way * 6, y - 3.5);
  c.lineTo(toX, y);
  c.lineTo(toX - way * 6, y + 3.5);
  c.stroke();
}

function pennant(c: Pen, x: number, f: {label: string; x: number; y: number}, ink: Ink): void {
  const w = f.label.length > 1 ? 22 : 18, h = 14, top = f.y - 24;
  c.lineWidth = 1.25;
  c.beginPath();
  c.moveTo(f.x, f.y - 2.5);
  if (x !== f.x) c.lineTo(x, f.y - 6);
  c.lineTo(x, top);
  c.stroke();
  c.beginPath();
  c.moveTo(x, top);
  c.lineTo(x + w, top);
  c.lineTo(x + w - 4, top + h / 2);
  c.lineTo(x + w, top + h);
  c.lineTo(x, top + h);
  c.closePath();
  c.fill();
  c.beginPath();
  c.arc(f.x, f.y, 2.4, 0, 7);
  c.fillStyle = ink.paper;
  c.fill();
  c.stroke();
  c.font = `600 13px ${kFont}`;
  c.textAlign = 'center';
  c.textBaseline = 'middle';
  c.fillText(f.label, x + (w - 3) / 2, top + h / 2 + 0.5);
  c.fillStyle = ink.plan;
}
