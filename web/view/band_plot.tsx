// A line over engine speed with its 95 % band, hatched like everything that is not known. Several lines share one scale.

import type {JSX} from 'preact';
import {fogLines, fogWidth, type Box} from '../chart/fog.ts';
import {kFont} from '../chart/frame.ts';
import type {Ink} from '../chart/ink.ts';
import type {Interval} from '../lib/contract.ts';
import {figure, roundTicks} from '../lib/number.ts';
import type {Shown} from '../lib/units.ts';
import {toShown} from '../lib/units.ts';
import {useCanvas} from './pieces.tsx';

const kBand = fogWidth(2.2);

export interface BandLine {
  name: string;
  values: readonly (Interval | null)[];
  /// Dashed: a limit rather than the answer.
  dashed?: boolean;
  plan?: boolean;
}

export function BandPlot(p: {
  title: string; x: readonly number[]; lines: readonly BandLine[]; shown: Shown; height: number; fromZero?: boolean; xUnit?: string;
  at?: {x: number; text: string; danger?: boolean}[]; label: string; plain?: boolean;
}): JSX.Element {
  const canvas = useCanvas((c, w, h, ink) => draw(c, p, w, h, ink), [p.lines, p.x, p.shown.unit]);
  return (
    <figure class="band-plot">
      <figcaption><strong>{p.title}</strong> <span class="label">{p.shown.unit}{p.plain ? '' : ', with its 95 % band'}</span></figcaption>
      <canvas ref={canvas.ref} role="img" aria-label={p.label} style={{width: '100%', height: `${p.height}px`, display: 'block'}} />
    </figure>
  );
}

function draw(c: CanvasRenderingContext2D, p: Parameters<typeof BandPlot>[0], w: number, h: number, ink: Ink): void {
  const box: Box = {left: 46, top: 12, width: w - 62, height: h - 36};
  const all = p.lines.flatMap((l) => l.values).filter((v): v is Interval => v !== null)
      .flatMap((v) => [v.low, v.middle, v.high]).map((v) => toShown(v, p.shown));
  c.clearRect(0, 0, w, h);
  if (all.length === 0 || p.x.length < 2) return;
  let low = p.fromZero ? 0 : Math.min(...all), high = Math.max(...all);
  if (high === low) high = low + 1;
  const room = (high - low) * 0.06;
  if (!p.fromZero) low -= room;
  high += room;
  const x = (v: number): number => box.left + ((v - p.x[0]!) / (p.x.at(-1)! - p.x[0]!)) * box.width;
  const y = (v: number): number => box.top + ((high - v) / (high - low)) * box.height;
  scale(c, box, p, low, high, x, y, ink);
  const labels: {text: string; y: number}[] = [];
  for (const l of p.lines) {
    if (l.dashed) outline(c, l, p, x, y, ink);
    else band(c, l, p, box, x, y, ink);
    stroke(c, l, p, x, y, ink);
    const early = l.values.find((v, k) => v !== null && x(p.x[k]!) > box.left + box.width * 0.12);
    if (early && p.lines.length > 1) labels.push({text: l.name, y: y(toShown(early.middle, p.shown))});
  }
  c.font = `500 13px ${kFont}`;
  c.textAlign = 'left';
  c.textBaseline = 'middle';
  labels.sort((a, b) => a.y - b.y);
  labels.forEach((l, k) => {
    let at = Math.max(box.top + 8, l.y - 10);
    const above = labels[k - 1];
    if (above && at - above.y < 16) at = above.y + 16;
    l.y = at;
    c.lineWidth = 4;
    c.lineJoin = 'round';
    c.strokeStyle = ink.paper;
    c.strokeText(l.text, box.left + box.width * 0.06, at);
    c.fillStyle = ink.ink;
    c.fillText(l.text, box.left + box.width * 0.06, at);
  });
  for (const a of p.at ?? []) mark(c, a, box, x, ink);
}

function scale(c: CanvasRenderingContext2D, box: Box, p: Parameters<typeof BandPlot>[0], low: number, high: number,
               x: (v: number) => number, y: (v: number) => number, ink: Ink): void {
  c.font = `500 13px ${kFont}`;
  c.textAlign = 'right';
  c.textBaseline = 'middle';
  c.lineWidth = 0.8;
  const steps = roundTicks(low, high, Math.max(2, box.height / 36));
  const digits = steps.length > 1 ? Math.max(0, Math.ceil(-Math.log10(steps[1]! - steps[0]!) - 1e-9)) : 0;
  for (const v of steps) {
    c.strokeStyle = ink.rule;
    c.beginPath();
    c.moveTo(box.left, y(v));
    c.lineTo(box.left + box.width, y(v));
    c.stroke();
    c.fillStyle = ink.ink2;
    c.fillText(figure(v, digits), box.left - 8, y(v));
  }
  c.textAlign = 'center';
  c.textBaseline = 'alphabetic';
  const ticks = roundTicks(p.x[0]!, p.x.at(-1)!, box.width / 80);
  ticks.forEach((v, k) => {
    c.fillText(k === ticks.length - 1 ? `${figure(v)} ${p.xUnit ?? 'rpm'}` : figure(v), Math.min(x(v), box.left + box.width - 18), box.top + box.height + 17);
  });
  c.strokeStyle = ink.ink2;
  c.beginPath();
  c.moveTo(box.left, box.top + box.height);
  c.lineTo(box.left + box.width, box.top + box.height);
  c.stroke();
}

function band(c: CanvasRenderingContext2D, l: BandLine, p: Parameters<typeof BandPlot>[0], box: Box, x: (v: number) => number,
              y: (v: number) => number, ink: Ink): void {
  const there = l.values.map((v, k) => ({v, k})).filter((e): e is {v: Interval; k: number} => e.v !== null && e.v.high > e.v.low);
  if (there.length < 2) return;
  c.save();
  c.beginPath();
  there.forEach(({v, k}, n) => c[n === 0 ? 'moveTo' : 'lineTo'](x(p.x[k]!), y(toShown(v.high, p.shown))));
  [...there].reverse().forEach(({v, k}) => c.lineTo(x(p.x[k]!), y(toShown(v.low, p.shown))));
  c.closePath();
  c.strokeStyle = ink.fog;
  c.lineWidth = 0.6;
  c.stroke();
  c.clip();
  c.fillStyle = ink.fog;
  c.beginPath();
  fogLines(box, () => kBand, c);
  c.fill();
  c.restore();
}

/// Of a limit only the edges are drawn: two hatches over each other could not be read.
function outline(c: CanvasRenderingContext2D, l: BandLine, p: Parameters<typeof BandPlot>[0], x: (v: number) => number, y: (v: number) => number,
                 ink: Ink): void {
  c.strokeStyle = ink.fog;
  c.lineWidth = 0.8;
  c.setLineDash([2, 4]);
  for (const edge of ['low', 'high'] as const) {
    c.beginPath();
    l.values.forEach((v, k) => v && c[k === 0 ? 'moveTo' : 'lineTo'](x(p.x[k]!), y(toShown(v[edge], p.shown))));
    c.stroke();
  }
  c.setLineDash([]);
}

function stroke(c: CanvasRenderingContext2D, l: BandLine, p: Parameters<typeof BandPlot>[0], x: (v: number) => number, y: (v: number) => number,
                ink: Ink): void {
  c.strokeStyle = l.plan ? ink.plan : ink.ink;
  c.lineWidth = l.dashed ? 1.25 : 1.8;
  c.setLineDash(l.dashed ? [7, 4] : []);
  c.beginPath();
  let down = false;
  l.values.forEach((v, k) => {
    if (!v) {
      down = false;
      return;
    }
    c[down ? 'lineTo' : 'moveTo'](x(p.x[k]!), y(toShown(v.middle, p.shown)));
    down = true;
  });
  c.stroke();
  c.setLineDash([]);
}

function mark(c: CanvasRenderingContext2D, a: {x: number; text: string; danger?: boolean}, box: Box, x: (v: number) => number, ink: Ink): void {
  c.strokeStyle = c.fillStyle = a.danger ? ink.danger : ink.plan;
  c.lineWidth = 1.25;
  c.setLineDash([2, 3]);
  c.beginPath();
  c.moveTo(x(a.x), box.top);
  c.lineTo(x(a.x), box.top + box.height);
  c.stroke();
  c.setLineDash([]);
  c.font = `600 13px ${kFont}`;
  c.textAlign = x(a.x) > box.left + box.width / 2 ? 'right' : 'left';
  c.textBaseline = 'alphabetic';
  c.fillText(a.text, x(a.x) + (c.textAlign === 'right' ? -5 : 5), box.top + 12);
}
