// The section under the chart: the estimate along a line with its 95 % band. The band is hatched, its outline stops where it
// leaves the panel, nodes carry their marks.

import {figure, roundTicks, signed} from '../lib/number.ts';
import type {Box} from './fog.ts';
import {fogLines, fogWidth} from './fog.ts';
import {kFont} from './frame.ts';
import type {Ink} from './ink.ts';
import {drawNode} from './marks.ts';

export interface SectionDrawing {
  /// Along the line, 0..1.
  at: readonly number[];
  middle: readonly number[];
  low: readonly number[];
  high: readonly number[];
  proposed: readonly number[] | null;
  relative: boolean;
  marks: readonly {at: number; mark: string}[];
  cursor: number | null;
}

/// The hatch of a band, wherever one is drawn.
const kBand = fogWidth(2.6);

export const kSectionLeft = 46, kSectionRight = 20;

/// Round limits that hold the middle line and at least part of the band.
export function limits(d: SectionDrawing): [number, number] {
  const known = d.middle.filter(Number.isFinite);
  if (known.length === 0) return [-10, 10];
  const widths = d.high.map((h, k) => h - d.middle[k]!).filter(Number.isFinite).sort((a, b) => a - b);
  const usual = widths[Math.floor(widths.length / 2)] ?? 0;
  let low = Math.min(...known) - usual, high = Math.max(...known) + usual;
  if (d.relative) {
    // Most of the line is to be read; what goes further leaves the panel.
    const far = known.map(Math.abs).sort((a, b) => a - b)[Math.floor(known.length * 0.8)]! + usual;
    const reach = Math.min(30, Math.max(5, Math.ceil(far / 5) * 5));
    return [-reach, reach];
  }
  const step = (high - low) / 5 || 1, power = 10 ** Math.floor(Math.log10(step));
  low = Math.floor(low / power) * power;
  high = Math.ceil(high / power) * power;
  return [low, high];
}

export function drawSection(c: CanvasRenderingContext2D, d: SectionDrawing, width: number, height: number, ink: Ink): void {
  const box: Box = {left: kSectionLeft, top: 8, width: width - kSectionLeft - kSectionRight, height: height - 16};
  const [low, high] = limits(d);
  const y = (v: number): number => box.top + ((high - v) / (high - low)) * box.height;
  const x = (t: number): number => box.left + t * box.width;
  c.clearRect(0, 0, width, height);
  drawScale(c, box, low, high, y, d.relative, ink);
  c.save();
  c.beginPath();
  c.rect(box.left, box.top, box.width, box.height);
  c.clip();
  band(c, d, box, x, y, ink);
  line(c, d.at, d.middle, x, y, ink.ink, 1.8);
  if (d.proposed) {
    c.setLineDash([3, 3]);
    line(c, d.at, d.proposed, x, y, ink.plan, 1.5);
    c.setLineDash([]);
  }
  for (const m of d.marks) drawNode(c, x(m.at), y(valueAt(d, m.at)), m.mark, ink);
  if (d.cursor !== null) {
    c.setLineDash([2, 3]);
    c.lineWidth = 1.25;
    c.strokeStyle = ink.ink;
    c.beginPath();
    c.moveTo(x(d.cursor), box.top);
    c.lineTo(x(d.cursor), box.top + box.height);
    c.stroke();
    c.setLineDash([]);
  }
  c.restore();
}

function drawScale(c: CanvasRenderingContext2D, box: Box, low: number, high: number, y: (v: number) => number,
                   relative: boolean, ink: Ink): void {
  c.font = `500 13px ${kFont}`;
  c.textAlign = 'right';
  c.textBaseline = 'middle';
  const steps = roundTicks(low, high, 4), digits = steps.some((v) => v % 1 !== 0) ? (steps.some((v) => (v * 10) % 1 !== 0) ? 2 : 1) : 0;
  for (const v of steps) {
    c.strokeStyle = relative && v === 0 ? ink.ink : ink.rule;
    c.lineWidth = relative && v === 0 ? 1 : 0.8;
    c.beginPath();
    c.moveTo(box.left, y(v));
    c.lineTo(box.left + box.width, y(v));
    c.stroke();
    c.fillStyle = v === 0 ? ink.ink : ink.ink3;
    c.fillText(relative ? signed(v, digits) : figure(v, digits), box.left - 12, y(v));
  }
}

function band(c: CanvasRenderingContext2D, d: SectionDrawing, box: Box, x: (t: number) => number, y: (v: number) => number,
              ink: Ink): void {
  c.save();
  c.beginPath();
  let begun = false;
  d.at.forEach((t, k) => {
    if (!Number.isFinite(d.high[k])) return;
    if (begun) c.lineTo(x(t), y(d.high[k]!));
    else c.moveTo(x(t), y(d.high[k]!));
    begun = true;
  });
  for (let k = d.at.length - 1; k >= 0; --k) if (Number.isFinite(d.low[k])) c.lineTo(x(d.at[k]!), y(d.low[k]!));
  c.closePath();
  c.save();
  c.clip();
  c.fillStyle = ink.fog;
  c.beginPath();
  fogLines(box, () => kBand, c);
  c.fill();
  c.restore();
  c.restore();
  line(c, d.at, d.high, x, y, ink.fog, 0.8);
  line(c, d.at, d.low, x, y, ink.fog, 0.8);
}

function line(c: CanvasRenderingContext2D, at: readonly number[], v: readonly number[], x: (t: number) => number,
              y: (v: number) => number, colour: string, width: number): void {
  c.strokeStyle = colour;
  c.lineWidth = width;
  c.lineJoin = 'round';
  c.beginPath();
  let down = false;
  at.forEach((t, k) => {
    if (!Number.isFinite(v[k])) {
      down = false;
      return;
    }
    if (down) c.lineTo(x(t), y(v[k]!));
    else c.moveTo(x(t), y(v[k]!));
    down = true;
  });
  c.stroke();
}

function valueAt(d: SectionDrawing, t: number): number {
  const n = d.at.length - 1, k = Math.min(n - 1, Math.max(0, Math.floor(t * n))), part = t * n - k;
  return d.middle[k]! + (d.middle[k + 1]! - d.middle[k]!) * part;
}
