// Which part of a recording is held and when more must be asked for. The server reduces every window to as many columns as
// the screen has; three screens are held, so that panning and a little zooming need no answer.

export interface Span {
  from: number;
  to: number;
}

export const widthOf = (s: Span): number => s.to - s.from;

/// Keeps a window inside the whole, as wide as it is if that fits; never narrower than `least`.
export function inside(w: Span, whole: Span, least: number): Span {
  const width = Math.min(widthOf(whole), Math.max(least, widthOf(w)));
  const middle = (w.from + w.to) / 2;
  const from = Math.min(whole.to - width, Math.max(whole.from, middle - width / 2));
  return {from, to: from + width};
}

export const panned = (w: Span, by: number): Span => ({from: w.from + by, to: w.to + by});

/// Zooms about a place that stays where it is; by > 1 shows more.
export const zoomed = (w: Span, about: number, by: number): Span =>
    ({from: about - (about - w.from) * by, to: about + (w.to - about) * by});

export interface Held extends Span {
  /// Width of a bucket; 0: every row is there.
  step: number;
}

/// What to ask for so that `w` can be drawn `pixels` wide; null if what is held will do.
export function wanted(held: Held | null, w: Span, whole: Span, pixels: number): (Span & {points: number}) | null {
  const perPixel = widthOf(w) / pixels;
  if (held && held.from <= w.from + 1e-9 && held.to >= w.to - 1e-9 && (held.step === 0 || held.step <= perPixel * 1.6)) return null;
  const from = Math.max(whole.from, w.from - widthOf(w)), to = Math.min(whole.to, w.to + widthOf(w));
  const points = Math.min(8000, Math.max(2, Math.round(((to - from) / widthOf(w)) * pixels)));
  return {from, to, points};
}

/// True at a place that a mask covers. Spans are sorted and do not overlap after merge().
export function merge(spans: readonly (readonly [number, number])[]): [number, number][] {
  const sorted = spans.map(([a, b]) => [a, b] as [number, number]).sort((p, q) => p[0] - q[0]);
  const out: [number, number][] = [];
  for (const s of sorted) {
    const last = out.at(-1);
    if (last && s[0] <= last[1]) last[1] = Math.max(last[1], s[1]);
    else out.push(s);
  }
  return out;
}

export function covered(spans: readonly (readonly [number, number])[], x: number): boolean {
  let low = 0, high = spans.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (spans[middle]![0] <= x) low = middle + 1;
    else high = middle;
  }
  return low > 0 && x <= spans[low - 1]![1];
}

/// Two points a bucket, in the order in which its values came, so that a line through them fills what they cover.
export function zigzag(x: readonly number[], step: number, low: readonly (number | null)[], high: readonly (number | null)[],
                       first: readonly (number | null)[], last: readonly (number | null)[]): [number[], (number | null)[]] {
  if (step === 0) return [x.slice(), low.slice()];
  const xs: number[] = [], ys: (number | null)[] = [];
  for (let k = 0; k < x.length; ++k) {
    const l = low[k] ?? null, h = high[k] ?? null;
    const rising = (first[k] ?? 0) <= (last[k] ?? 0);
    xs.push(x[k]! + step * 0.25, x[k]! + step * 0.75);
    ys.push(rising ? l : h, rising ? h : l);
  }
  return [xs, ys];
}
