// The neatline of a chart: a border that is its own scale, in alternating bars of ink and paper, and the figures at it.

import {figure, roundStep} from '../lib/number.ts';
import type {Box} from './fog.ts';
import type {Ink} from './ink.ts';
import type {Pen} from './pen.ts';

export const kFont = '"Ysabeau Office", "Gill Sans", Lato, sans-serif';

/// One axis as it is drawn, from SI to what is read: shown = SI * factor + offset. Numbers alone, so that it can be sent to a worker.
export interface Scale {
  low: number;   // SI at the left or the bottom
  high: number;  // SI at the right or the top
  unit: string;
  digits: number;
  factor: number;
  offset: number;
}

export const shownOn = (s: Scale, si: number): number => si * s.factor + s.offset;
export const siOn = (s: Scale, shown: number): number => (shown - s.offset) / s.factor;

export const xOf = (box: Box, s: Scale, si: number): number => box.left + ((si - s.low) / (s.high - s.low)) * box.width;
export const yOf = (box: Box, s: Scale, si: number): number =>
    box.top + box.height - ((si - s.low) / (s.high - s.low)) * box.height;
export const xBack = (box: Box, s: Scale, px: number): number => s.low + ((px - box.left) / box.width) * (s.high - s.low);
export const yBack = (box: Box, s: Scale, py: number): number =>
    s.low + ((box.top + box.height - py) / box.height) * (s.high - s.low);

/// Where bars change and which of them carry a figure, in shown units.
export function ticks(s: Scale, length: number, room: number): {at: number[]; labelled: Set<number>; step: number} {
  const a = shownOn(s, s.low), b = shownOn(s, s.high), low = Math.min(a, b), high = Math.max(a, b);
  const step = roundStep(high - low, length / (room * 0.75));
  const at: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; ++k) at.push(Number((k * step).toPrecision(12)));
  const px = (step / (high - low)) * length;
  const every = Math.max(1, Math.ceil(room / px));
  const labelled = new Set(at.filter((v) => Math.round(v / step) % every === 0));
  return {at, labelled, step};
}

/// Draws the border of `box`, `thick` pixels outside it, and the figures on the left and below.
export function drawFrame(c: Pen, box: Box, x: Scale, y: Scale, ink: Ink, size = 13): void {
  const gap = 2, thick = 5;
  const outer = {left: box.left - gap - thick, top: box.top - gap - thick,
                 width: box.width + 2 * (gap + thick), height: box.height + 2 * (gap + thick)};
  c.save();
  c.lineWidth = 0.8;
  c.strokeStyle = ink.ink;
  c.strokeRect(box.left - gap, box.top - gap, box.width + 2 * gap, box.height + 2 * gap);
  c.strokeRect(outer.left, outer.top, outer.width, outer.height);
  c.fillStyle = ink.ink;
  c.font = `500 ${size}px ${kFont}`;
  bars(x, ticks(x, box.width, 62), (from, to) => {
    const a = xOf(box, x, from), b = xOf(box, x, to);
    c.fillRect(a, outer.top, b - a, thick);
    c.fillRect(a, outer.top + outer.height - thick, b - a, thick);
  });
  bars(y, ticks(y, box.height, 38), (from, to) => {
    const a = yOf(box, y, to), b = yOf(box, y, from);
    c.fillRect(outer.left, a, thick, b - a);
    c.fillRect(outer.left + outer.width - thick, a, thick, b - a);
  });
  figures(c, box, outer, x, y, ink, size);
  c.restore();
}

function bars(s: Scale, t: {at: number[]; step: number}, fill: (from: number, to: number) => void): void {
  const inside = (si: number): number => Math.min(s.high, Math.max(s.low, si));
  const first = t.at.length > 0 ? t.at[0]! - t.step : 0;
  for (let k = 0; k <= t.at.length; ++k) {
    const from = first + k * t.step;
    if (Math.round(from / t.step) % 2 !== 0) continue;
    const a = inside(siOn(s, from)), b = inside(siOn(s, from + t.step));
    if (a !== b) fill(Math.min(a, b), Math.max(a, b));
  }
}

function figures(c: Pen, box: Box, outer: Box, x: Scale, y: Scale, ink: Ink, size: number): void {
  const below = outer.top + outer.height + size + 3, beside = outer.left - 6;
  const right = box.left + box.width;
  const unitWidth = c.measureText(` ${x.unit}`).width;
  c.textAlign = 'center';
  c.textBaseline = 'alphabetic';
  const tx = ticks(x, box.width, 62);
  // The unit stands at the right end, behind the last figure if that one would reach it; what runs into them is left out.
  const labels = tx.at.filter((v) => tx.labelled.has(v)).map((v) => {
    const text = figure(v, Math.min(2, stepDigits(tx.step)));
    return {text, at: xOf(box, x, siOn(x, v)), half: c.measureText(text).width / 2};
  }).sort((a, b) => a.at - b.at);
  const last = labels.at(-1), joined = last !== undefined && last.at + last.half > right - unitWidth;
  const end = joined ? `${last.text} ${x.unit}` : x.unit;
  const free = outer.left + outer.width - c.measureText(end).width - 10;
  c.fillStyle = ink.ink;
  for (const l of joined ? labels.slice(0, -1) : labels) if (l.at + l.half < free) c.fillText(l.text, l.at, below);
  c.textAlign = 'right';
  if (!joined) c.fillStyle = ink.ink3;
  c.fillText(end, outer.left + outer.width, below);
  const ty = ticks(y, box.height, 38);
  c.textBaseline = 'middle';
  let top = Infinity;
  for (const v of ty.at) {
    if (!ty.labelled.has(v)) continue;
    const at = yOf(box, y, siOn(y, v));
    top = Math.min(top, at);
    c.fillStyle = ink.ink;
    c.fillText(figure(v, Math.min(2, stepDigits(ty.step))), beside, at);
  }
  c.fillStyle = ink.ink3;
  c.textAlign = 'right';
  c.fillText(y.unit, beside, top - outer.top > size * 1.4 ? outer.top + size / 2 : top + size + 3);
}

const stepDigits = (step: number): number => Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
