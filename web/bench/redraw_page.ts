// The page side of redraw.mjs.
import {drawTerrain, layoutOf} from '../chart/draw.ts';
import {kLight} from '../chart/ink.ts';
import {KeptGround} from '../chart/kept_ground.ts';
import type {Scene} from '../chart/scene.ts';

const n = 32;
const x = Array.from({length: n}, (_, i) => 500 + i * 200), y = Array.from({length: n}, (_, j) => 20e3 + j * 2600);
const over = (f: (i: number, j: number) => number): number[] => y.flatMap((_, j) => x.map((_, i) => f(i, j)));
const linear = (low: number, high: number, unit: string): Scene['xScale'] => ({low, high, unit, digits: 0, factor: 1, offset: 0});

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

let now = scene(0);
const draw = (): void => drawTerrain(context, ground, now, layoutOf(906, 430), kLight);
const ground: KeptGround = new KeptGround(draw);

async function chart(frames: number): Promise<void> {
  for (let k = 0; k < frames; ++k) {
    now = scene(k / 50);
    draw();
    await frame();
  }
}

async function drag(frames: number): Promise<void> {
  const one = scene(0);
  for (let k = 0; k < frames; ++k) {
    now = {...one, section: {x0: 500, y0: 40e3 + 300 * k, x1: 6700, y1: 60e3}};
    draw();
    await frame();
  }
}

(globalThis as unknown as {bench: object}).bench = {chart, drag};
