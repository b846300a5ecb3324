// What a terrain chart is to show, in SI on its axes and in the shown unit of its values. Made from a reply; drawn by draw.ts.

import type {Mark} from '../lib/contract.ts';
import type {Scale} from './frame.ts';

export interface Flag {
  label: string;
  x: number;
  y: number;
  /// Where it ends, if it is a sweep or a pull.
  toX: number | null;
}

export interface Scene {
  x: readonly number[];
  y: readonly number[];
  xScale: Scale;
  yScale: Scale;
  /// Of the surface whose contours are drawn, in the shown unit.
  values: readonly number[];
  step: number;
  /// Standard deviation [%]; null: nothing is known about it, no fog.
  sd: readonly number[] | null;
  /// Share by which the evidence would change the table in force; null: no wash.
  correction: readonly number[] | null;
  mark: readonly Mark[] | null;
  /// Highest load that full throttle reaches; null: the whole table.
  reach: {x: readonly number[]; y: readonly number[]} | null;
  tracks: readonly {x: readonly (number | null)[]; y: readonly (number | null)[]}[];
  flags: readonly Flag[];
  section: {x0: number; y0: number; x1: number; y1: number} | null;
  /// Node that is looked at.
  cursor: number | null;
}

/// Highest load at a speed, or infinity.
export function reachAt(scene: Pick<Scene, 'reach'>, x: number): number {
  const r = scene.reach;
  if (!r || r.x.length === 0) return Infinity;
  const n = r.x.length;
  if (x <= r.x[0]!) return r.y[0]!;
  for (let k = 1; k < n; ++k) {
    if (x <= r.x[k]!) {
      const t = (x - r.x[k - 1]!) / (r.x[k]! - r.x[k - 1]!);
      return r.y[k - 1]! + (r.y[k]! - r.y[k - 1]!) * t;
    }
  }
  return r.y[n - 1]!;
}
