// One channel over time, drawn by uPlot; masks are hatched, the mixture's distance from its target is washed where it teaches.

import type {JSX} from 'preact';
import {useEffect, useRef} from 'preact/hooks';
import uPlot from 'uplot';
import {fogWidth} from '../../chart/fog.ts';
import {patch} from '../../chart/fog_pixels.ts';
import {kFont} from '../../chart/frame.ts';
import {kDark, kLight, rgb, type Ink} from '../../chart/ink.ts';
import {clock, figure, roundTicks} from '../../lib/number.ts';
import {dark} from '../../lib/store.ts';
import {toShown, type Shown} from '../../lib/units.ts';
import {bars, firstFrom, isDense, type Across} from './columns.ts';
import {covered, type Span} from './viewport.ts';

export interface StripData {
  x: number[];
  y: (number | null)[];
  target: (number | null)[] | null;
}

export interface Letter {
  letter: string;
  at: number;
}

export interface StripProps {
  title: string;
  note: string;
  data: StripData;
  shown: Shown;
  range: [number, number];
  view: Span;
  masks: readonly (readonly [number, number])[];
  labels: readonly {text: string; from: number; to: number}[];
  letters: readonly Letter[];
  height: number;
  width: number;
  timed: boolean;
  last: boolean;
  mixture: boolean;
}

const kLeft = 58;
/// A mask is hatched as what is known to 3.6 %.
const kMask = fogWidth(3.6);

function draw(u: uPlot, p: StripProps, ink: Ink): void {
  const c = u.ctx;
  const left = Math.round(u.bbox.left), top = Math.round(u.bbox.top), width = Math.round(u.bbox.width), height = Math.round(u.bbox.height);
  c.save();
  c.beginPath();
  c.rect(left, top, width, height);
  c.clip();
  if (p.mixture && p.data.target) wash(u, p, ink);
  let hatched: HTMLCanvasElement | null = null;
  for (const [from, to] of p.masks) {
    if (to < p.view.from || from > p.view.to) continue;
    hatched ??= patch(width, height, left, top, devicePixelRatio, kMask, rgb(ink.fog));
    const a = Math.max(left, Math.floor(u.valToPos(from, 'x', true)));
    const b = Math.min(left + width, Math.max(a + Math.ceil(1.5 * devicePixelRatio), Math.ceil(u.valToPos(to, 'x', true))));
    if (b > a) c.drawImage(hatched, a - left, 0, b - a, height, a, top, b - a, height);
  }
  c.restore();
}

/// Blue: leaner than wanted; ochre: richer. Only where it teaches.
function wash(u: uPlot, p: StripProps, ink: Ink): void {
  const c = u.ctx, {x, y, target} = p.data;
  const px = (v: number): number => u.valToPos(v, 'x', true), py = (v: number): number => u.valToPos(toShown(v, p.shown), 'y', true);
  const end = Math.min(x.length - 1, firstFrom(x, p.view.to) + 1);
  c.globalAlpha = 0.75;
  for (const lean of [true, false]) {
    c.fillStyle = ink.diverging[lean ? 6 : 2]!;
    for (let k = Math.max(0, firstFrom(x, p.view.from) - 1); k < end; ++k) {
      const v = y[k], t = target![k];
      if (v == null || t == null || v > t !== lean || covered(p.masks, x[k]!)) continue;
      const a = px(x[k]!), from = py(t), to = py(v);
      c.fillRect(a, Math.min(from, to), Math.max(0.5, px(x[k + 1]!) - a + 0.5), Math.abs(to - from));
    }
  }
  c.globalAlpha = 1;
}

/// What lies so close that a line would run over itself is drawn as bars, the rest by uPlot.
const acrossOf = (u: uPlot, p: StripProps): Across => ({left: u.bbox.left, width: u.bbox.width, from: p.view.from, to: p.view.to});

function drawBars(u: uPlot, p: StripProps, series: number, colour: string, thick: number): void {
  const c = u.ctx, a = acrossOf(u, p);
  if (!isDense(u.data[0], a)) return;
  const half = (thick * devicePixelRatio) / 2, {top, height} = u.bbox, [low, high] = p.range;
  const perY = height / (high - low);
  c.save();
  c.beginPath();
  c.rect(a.left, top, a.width, height);
  c.clip();
  c.fillStyle = colour;
  bars(u.data[0], u.data[series] as (number | null)[], a, (v) => top + (high - v) * perY,
       (column, from, to) => c.fillRect(column, from - half, 1, to - from + 2 * half));
  c.restore();
}

function marks(u: uPlot, p: StripProps, ink: Ink): void {
  const c = u.ctx, d = devicePixelRatio;
  c.save();
  c.textAlign = 'center';
  c.textBaseline = 'middle';
  c.font = `italic 500 ${13 * d}px ${kFont}`;
  let free = -Infinity;
  for (const l of p.labels) {
    const from = Math.max(l.from, p.view.from), to = Math.min(l.to, p.view.to);
    if (to < from) continue;
    const x = u.valToPos((from + to) / 2, 'x', true), w = c.measureText(l.text).width;
    const at = Math.min(u.bbox.left + u.bbox.width - w / 2, Math.max(u.bbox.left + w / 2, x));
    if (at - w / 2 < free) continue;
    free = at + w / 2 + 12 * d;
    c.fillStyle = ink.ink2;
    c.fillText(l.text, at, u.bbox.top - 9 * d);
  }
  c.font = `italic 500 ${15 * d}px ${kFont}`;
  for (const l of p.letters) {
    if (l.at < p.view.from || l.at > p.view.to) continue;
    const x = Math.min(u.bbox.left + u.bbox.width - 12 * d, Math.max(u.bbox.left + 12 * d, u.valToPos(l.at, 'x', true)));
    const y = u.bbox.top + 16 * d;
    c.beginPath();
    c.arc(x, y, 10 * d, 0, 7);
    c.fillStyle = ink.paper;
    c.fill();
    c.lineWidth = 1.25 * d;
    c.strokeStyle = ink.ink;
    c.stroke();
    c.fillStyle = ink.ink;
    c.fillText(l.letter, x, y - 0.5 * d);
  }
  c.restore();
}

/// What is known at full weight, what is masked as a thin line.
function columns(p: StripProps): uPlot.AlignedData {
  const known: (number | null)[] = [], thin: (number | null)[] = [];
  const {x, y} = p.data;
  let was = false;
  for (let k = 0; k < x.length; ++k) {
    const v = y[k] == null ? null : toShown(y[k]!, p.shown), masked = covered(p.masks, x[k]!);
    known.push(masked ? (was || k === 0 ? null : v) : v);
    thin.push(masked || was ? v : null);
    was = masked;
  }
  const target = p.data.target ? p.data.target.map((t) => (t === null ? null : toShown(t, p.shown))) : x.map(() => null);
  return [x, known, thin, target];
}

type Pen = [width: number, colour: (i: Ink) => string];
/// What is known, what is masked, the target.
const kPens: Pen[] = [[1.4, (i) => i.ink], [0.7, (i) => i.ink2], [1, (i) => i.ink3]];

export function Strip(p: StripProps): JSX.Element {
  const hold = useRef<HTMLDivElement>(null), plot = useRef<uPlot | null>(null);
  const latest = useRef(p);
  latest.current = p;
  const ink = dark.value ? kDark : kLight;
  const inkRef = useRef(ink);
  inkRef.current = ink;

  useEffect(() => {
    const axis = (extra: Partial<uPlot.Axis>): uPlot.Axis => ({
      stroke: () => inkRef.current.ink2, font: `500 13px ${kFont}`, ticks: {show: false}, gap: 6,
      grid: {show: true, stroke: () => inkRef.current.rule, width: 0.8}, ...extra,
    });
    const plain = uPlot.paths.linear!();
    const line = ([width, stroke]: Pen): uPlot.Series => ({
      stroke: () => stroke(inkRef.current), width, points: {show: false}, spanGaps: false,
      paths: (q, k, i0, i1) => (isDense(q.data[0], acrossOf(q, latest.current)) ? null : plain(q, k, i0, i1)),
    });
    const u = new uPlot({
      width: latest.current.width, height: latest.current.height, legend: {show: false},
      cursor: {drag: {x: false, y: false}, sync: {key: 'drive'}, y: false, points: {show: false}},
      padding: [latest.current.labels.length > 0 ? 18 : 6, 0, 0, 0],
      scales: {x: {time: false, range: () => [latest.current.view.from, latest.current.view.to]},
               y: {range: () => latest.current.range}},
      series: [{}, ...kPens.map(line)],
      axes: [
        axis({show: latest.current.last, size: 24, grid: {show: false},
              splits: (_u, _i, low, high) => timeTicks(low, high, latest.current.width / 110, latest.current.timed),
              values: (_, v) => v.map((t, k) => (latest.current.timed ? clock(t) + (k === v.length - 1 ? ' min:s' : '') : figure(t)))}),
        axis({size: kLeft, splits: (_u, _i, low, high) => roundTicks(low, high, Math.max(2, latest.current.height / 40)),
              values: (_, v) => v.map((t) => figure(t, digitsBetween(v)))}),
      ],
      hooks: {
        drawClear: [(q) => draw(q, latest.current, inkRef.current)],
        drawSeries: [(q, k) => {
          const pen = kPens[k - 1];
          if (pen) drawBars(q, latest.current, k, pen[1](inkRef.current), pen[0]);
        }],
        draw: [(q) => marks(q, latest.current, inkRef.current)],
      },
    }, columns(latest.current), hold.current!);
    plot.current = u;
    void document.fonts.ready.then(() => u.redraw());
    const before = (): void => {
      inkRef.current = kLight;
      u.redraw();
    };
    const after = (): void => {
      inkRef.current = dark.peek() ? kDark : kLight;
      u.redraw();
    };
    addEventListener('beforeprint', before);
    addEventListener('afterprint', after);
    return () => {
      removeEventListener('beforeprint', before);
      removeEventListener('afterprint', after);
      u.destroy();
    };
  }, [p.last, p.labels.length > 0]);
  useEffect(() => plot.current?.setSize({width: p.width, height: p.height}), [p.width, p.height]);
  useEffect(() => plot.current?.setData(columns(p), true), [p.data, p.masks, p.shown]);
  useEffect(() => plot.current?.redraw(false, true), [p.view, ink, p.letters]);
  useEffect(() => {
    plot.current?.setScale('x', {min: p.view.from, max: p.view.to});
  }, [p.view]);
  return (
    <figure class="strip" aria-label={`${p.title} over time`}>
      <figcaption><strong>{p.title}</strong> <span class="label">{p.note}</span></figcaption>
      <div ref={hold} />
    </figure>
  );
}

/// Round seconds, minutes or hours.
function timeTicks(low: number, high: number, wanted: number, timed: boolean): number[] {
  if (!timed) return roundTicks(low, high, wanted);
  const least = (high - low) / wanted;
  const step = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400].find((s) => s >= least) ?? 28800;
  const out: number[] = [];
  for (let k = Math.ceil(low / step); k * step <= high; ++k) out.push(k * step);
  return out;
}

const digitsBetween = (v: readonly number[]): number =>
    v.length < 2 ? 0 : Math.max(0, Math.ceil(-Math.log10(Math.abs(v[1]! - v[0]!)) - 1e-9));
