// From replies to what a chart shows. No figure is made here: values are scaled to the unit that the reply names.

import type {Chart, Plan, Section, Track, Units} from '../lib/contract.ts';
import {figure} from '../lib/number.ts';
import {axisShown, shownAs} from '../lib/units.ts';
import {shownOn, type Scale} from './frame.ts';
import type {Flag, Scene} from './scene.ts';

/// The scale of an axis; MAP may be read as vacuum below the air outside.
export function scaleOf(axis: {kind: string; points_si: readonly number[]}, units: Units, vacuumBelow: number | null): Scale {
  const low = axis.points_si[0]!, high = axis.points_si.at(-1)!;
  if (axis.kind === 'map_absolute' && vacuumBelow !== null) {
    const s = shownAs('vacuum', 'us');  // inches of mercury are how a vacuum gauge reads everywhere
    return {low, high, unit: 'inHg', digits: 1, factor: -s.factor, offset: vacuumBelow * s.factor};
  }
  const s = axisShown(axis.kind, units);
  return {low, high, unit: s.unit, digits: s.digits, factor: s.factor, offset: s.offset};
}

/// Contour step of a table in its shown unit: 5 % of VE, 2 degrees of spark; else about ten lines.
export function contourStep(table: string, values: readonly number[]): number {
  if (table === 've') return 5;
  if (table === 'spark') return 2;
  const span = Math.max(...values) - Math.min(...values);
  const raw = span / 10 || 1, power = 10 ** Math.floor(Math.log10(raw)), lead = raw / power;
  return (lead < 1.5 ? 1 : lead < 3.5 ? 2 : lead < 7.5 ? 5 : 10) * power;
}

export type Showing = 'evidence' | 'proposal';

export interface Extras {
  track: Track | null;
  plan: Plan | null;
  section: Scene['section'];
  cursor: number | null;
  vacuum: boolean;
  showing: Showing;
}

export function sceneOf(chart: Chart, extras: Extras): Scene {
  const below = extras.vacuum ? chart.ambient_pa : null;
  const known = chart.basis === 'driving';
  const base = (known ? chart.in_force : null) ?? chart.estimate ?? chart.in_force ?? chart.proposed ?? [];
  const values = base.map((v) => v * chart.factor);
  const correction = extras.showing === 'proposal' && chart.change ? chart.change : chart.correction;
  return {
    x: chart.x.points_si,
    y: chart.y.points_si,
    xScale: scaleOf(chart.x, chart.units, null),
    yScale: scaleOf(chart.y, chart.units, below),
    values,
    step: contourStep(chart.table, values),
    sd: chart.sd_log ? chart.sd_log.map((s) => s * 100) : null,
    correction: known ? correction : null,
    mark: chart.mark,
    reach: chart.reach,
    tracks: extras.track?.tracks ?? [],
    flags: extras.plan && chart.y.kind === 'map_absolute' ? flagsOf(extras.plan) : [],
    section: extras.section,
    cursor: extras.cursor,
  };
}

export function flagsOf(plan: Plan): Flag[] {
  // A step without an engine speed, idling, has no place on the chart; the others keep their numbers.
  return plan.steps.map((s, k) => ({
    label: String(k + 1),
    x: s.from_rpm,
    y: s.pressure_pa,
    toX: s.until_rpm !== null && s.until_rpm !== s.from_rpm ? s.until_rpm : null,
  })).filter((f) => f.x > 0);
}

/// A section through the whole table at the load that holds the most driving, else in the middle.
export function firstSection(chart: Chart): NonNullable<Scene['section']> {
  const {x, y} = chart;
  const nx = x.points_si.length;
  let best = Math.floor(y.points_si.length / 2), most = 0;
  y.points_si.forEach((_, j) => {
    const sum = (chart.seconds ?? []).slice(j * nx, (j + 1) * nx).filter((s) => s > 2).length;
    if (sum > most) {
      most = sum;
      best = j;
    }
  });
  const at = y.points_si[best]!;
  return {x0: x.points_si[0]!, y0: at, x1: x.points_si.at(-1)!, y1: at};
}

export const sectionQuery = (table: string, s: NonNullable<Scene['section']>, points: number): string =>
    `/chart/section?table=${table}&x0=${s.x0}&y0=${s.y0}&x1=${s.x1}&y1=${s.y1}&points=${points}`;

/// A section's lines in per cent of the table in force, or in the value's own unit where there is none.
export function sectionLines(s: Section): {unit: string; relative: boolean; middle: number[]; low: number[]; high: number[];
                                           proposed: number[] | null} {
  const base = s.in_force ?? [];
  const relative = s.basis === 'driving' && base.length > 0 && base.every((v) => v !== null && v > 0);
  const scale = (v: number | null, k: number): number =>
      v === null ? Number.NaN : relative ? (v / base[k]! - 1) * 100 : v * s.factor;
  const line = (v: (number | null)[] | null): number[] => (v ?? s.at.map(() => null)).map(scale);
  return {
    unit: relative ? '%' : s.unit,
    relative,
    middle: line(s.estimate ?? s.in_force),
    low: line(s.low),
    high: line(s.high),
    proposed: s.proposed ? s.proposed.map(scale) : null,
  };
}

/// "60 kPa".
export const axisScaleText = (s: Scale, si: number): string => `${figure(shownOn(s, si), s.digits)} ${s.unit}`;
