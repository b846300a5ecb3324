// The ground of one chart, kept between drawings: a section that is dragged changes none of it. What does change it is painted by a
// worker, so that the page answers meanwhile; the old ground stands until the new one is there. The first time, at another size and
// where there is no worker, it is painted at once.

import {kFont} from './frame.ts';
import {paintGround, type GroundScene, type Layout} from './ground.ts';
import type {Ink} from './ink.ts';
import {KeepOut, type Boxes} from './labels.ts';
import {newCanvas, penOn, type Canvas} from './pen.ts';

/// What the worker is asked and what it answers.
export interface Asked {
  ground: number;
  scene: GroundScene;
  ink: Ink;
  width: number;   // of the drawing [CSS px]
  height: number;
  pixels: [number, number];
}
export interface Painted {
  ground: number;
  /// null: the worker cannot draw as the page does.
  picture: ImageBitmap | null;
  keep: Boxes;
}

interface Kept {
  picture: Canvas | ImageBitmap;
  keep: KeepOut;
  /// What it was painted from.
  of: readonly unknown[];
  size: string;
}

export class KeptGround {
  private kept: Kept | null = null;
  private asked: readonly unknown[] | null = null;
  private waiting: {of: readonly unknown[]; ask: Asked} | null = null;
  private readonly number = ++grounds;

  /// `again` draws the chart anew; it is called when a ground that was asked for is there.
  constructor(private readonly again: () => void) {}

  /// Lays the ground of `scene` on `c`; the boxes that figures keep out of come back.
  lay(c: CanvasRenderingContext2D, scene: GroundScene, layout: Layout, ink: Ink): KeepOut {
    const {width, height} = c.canvas, size = `${width} ${height} ${layout.width} ${layout.height}`;
    const of = [scene.values, scene.sd, scene.correction, scene.tracks, scene.mark, scene.reach, scene.flags, scene.xScale.unit,
                scene.yScale.unit, ink, size, document.fonts.check(`600 13px ${kFont}`)];
    if (this.kept === null || this.kept.size !== size || !(same(of, this.kept.of) || this.ask(of, scene, layout, ink, [width, height]))) {
      this.paint(of, size, c, scene, layout, ink);
    }
    const kept = this.kept!;
    c.save();
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.drawImage(kept.picture, 0, 0);
    c.restore();
    return kept.keep.copy();
  }

  /// False: there is no worker to ask.
  private ask(of: readonly unknown[], scene: GroundScene, layout: Layout, ink: Ink, pixels: [number, number]): boolean {
    const worker = painter();
    if (worker === null) return false;
    if (this.asked !== null && same(of, this.asked)) {
      this.waiting = null;
      return true;
    }
    const {x, y, xScale, yScale, values, step, sd, correction, mark, reach, tracks, flags} = scene;
    const ask: Asked = {ground: this.number, scene: {x, y, xScale, yScale, values, step, sd, correction, mark, reach, tracks, flags},
                        ink, width: layout.width, height: layout.height, pixels};
    // One at a time, then the newest: what came between is never seen.
    if (this.asked !== null) this.waiting = {of, ask};
    else this.send(worker, of, ask);
    return true;
  }

  private send(worker: Worker, of: readonly unknown[], ask: Asked): void {
    this.asked = of;
    open.set(this.number, this);
    worker.postMessage(ask);
  }

  /// The worker's answer.
  take(painted: Painted): void {
    const of = this.asked, next = this.waiting;
    open.delete(this.number);
    this.asked = this.waiting = null;
    if (of !== null && painted.picture !== null && this.kept !== null && of.includes(this.kept.size)) {
      if (this.kept.picture instanceof ImageBitmap) this.kept.picture.close();
      this.kept = {...this.kept, picture: painted.picture, keep: new KeepOut(painted.keep), of};
    }
    const worker = painter();
    if (next !== null && worker !== null) this.send(worker, next.of, next.ask);
    this.again();
  }

  private paint(of: readonly unknown[], size: string, c: CanvasRenderingContext2D, scene: GroundScene, layout: Layout, ink: Ink): void {
    const picture = newCanvas(c.canvas.width, c.canvas.height), pen = penOn(picture);
    pen.setTransform(c.getTransform());
    this.kept = {picture, of, size, keep: paintGround(pen, scene, layout, ink)};
  }
}

const same = (a: readonly unknown[], b: readonly unknown[]): boolean => a.every((v, k) => v === b[k]);

let grounds = 0;
const open = new Map<number, KeptGround>();

/// The one worker of the page; undefined: not tried yet, null: there is none that draws as the page does.
let worker: Worker | null | undefined;

function painter(): Worker | null {
  if (worker !== undefined) return worker;
  worker = null;
  if (typeof Worker === 'undefined' || typeof OffscreenCanvas === 'undefined') return null;
  const one = new Worker(new URL('./ground_worker.js', import.meta.url), {type: 'module'});
  const without = (): void => {
    worker = null;
    one.terminate();
    for (const [number, ground] of [...open]) ground.take({ground: number, picture: null, keep: []});
  };
  one.onerror = without;
  one.onmessage = (e: MessageEvent<Painted>) => {
    if (e.data.picture === null) without();
    else open.get(e.data.ground)?.take(e.data);
  };
  return (worker = one);
}
