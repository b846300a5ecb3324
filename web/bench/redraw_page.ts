// The page side of redraw.mjs.
import uPlot from 'uplot';
import {drawTerrain, layoutOf} from '../chart/draw.ts';
import {kLight} from '../chart/ink.ts';
import type {Scene} from '../chart/scene.ts';

const n = 32;
const x = Array.from({length: n}, (_, i) => 500 + i * 200), y = Array.from({length: n}, (_, j) => 20e3 + j * 2600);
const over = (f: (i: number, j: number) => number): number[] => y.flatMap((_, j) => x.map((_, i) => f(i, j)));
const linear = (low: number, high: number, unit: string): Scene['xScale'] => ({low, high, unit, digits: 0, show: (v) => v, toSi: (v) => v});

function scene(turn: number): Scene {
  const walk = Array.from({length: 4000}, (_, k) => ({x: 2500 + 1500 * Math.sin(k / 37 + turn), y: 50e3 + 25e3 * Math.sin(k / 23)}));
  return {
    x, y, xScale: linear(x[0]!, x.at(-1)!, 'rpm'), yScale: linear(y[0]!, y.at(-1)!, 'Pa'),
    values: over((i, j) => 40 + 30 * Math.sin(i / 9 + turn) + 30 * (j / n) + 4 * Math.sin(i * j / 40)), step: 5,
    sd: over((i, j) => 0.8 + 8 * Math.abs(Math.sin(i / 11 + j / 17))), correction: over((i, j) => 0.06 * Math.sin(i / 5 + j / 7 + turn)),
    mark: over((i, j) => (i + j) % 3).map((k) => (['measured', 'inferred', 'prior only'] as const)[k]!),
    reach: {x: [500, 6700], y: [99e3, 96e3]}, tracks: [{x: walk.map((w) => w.x), y: walk.map((w) => w.y)}],
    flags: [1, 2, 3, 4, 5].map((k) => ({label: String(k), x: 1000 * k, y: 40e3 + 8e3 * k, toX: k === 5 ? 6000 : null})),
    section: {x0: 500, y0: 60e3, x1: 6700, y1: 60e3}, cursor: null,
  };
}

const canvas = document.createElement('canvas');
canvas.width = 906;
canvas.height = 430;
document.body.append(canvas);
const context = canvas.getContext('2d')!;
const frame = (): Promise<void> => new Promise((go) => requestAnimationFrame(() => go()));

async function chart(frames: number): Promise<void> {
  for (let k = 0; k < frames; ++k) {
    drawTerrain(context, scene(k / 50), layoutOf(906, 430), kLight);
    await frame();
  }
}

// What the server sends of a window: three screens of 860 columns, least and greatest value of each.
const columns = 3 * 860;
const xs = Float64Array.from({length: 2 * columns}, (_, k) => k / 2);
const plots = Array.from({length: 8}, (_, c) => {
  const ys = Float64Array.from({length: 2 * columns}, (_, k) => Math.sin(k / (90 + c * 7)) + (k % 2 ? 0.1 : -0.1) * Math.sin(k * 12.9898));
  const u = new uPlot({width: 860, height: 80, legend: {show: false}, cursor: {show: false}, axes: [{show: false}, {}],
                       scales: {x: {time: false}, y: {range: [-1.2, 1.2]}}, series: [{}, {stroke: '#14202C', width: 1.4, points: {show: false}}]},
                      [xs, ys] as unknown as uPlot.AlignedData, document.body);
  u.setScale('x', {min: 860, max: 1720});
  return u;
});

async function pan(frames: number): Promise<void> {
  for (let k = 0; k < frames; ++k) {
    const from = 860 + 8 * (k % 60);
    for (const u of plots) u.setScale('x', {min: from, max: from + 860});
    await frame();
  }
}

(globalThis as unknown as {bench: object}).bench = {chart, pan};
