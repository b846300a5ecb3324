// A dense trace column by column of the screen: from its least to its greatest value there, thick as the line would be. A line
// through as many points costs the browser ten times as much and looks the same. Pure but for where the bars go.

export interface Across {
  left: number;   // px of the screen where the window begins
  width: number;  // px
  from: number;   // value of x there
  to: number;
}

/// First index whose x is not below `at`.
export function firstFrom(x: ArrayLike<number>, at: number): number {
  let low = 0, high = x.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (x[middle]! < at) low = middle + 1;
    else high = middle;
  }
  return low;
}

/// Whether a line through the points of the window has more than one to a column.
export const isDense = (x: ArrayLike<number>, a: Across): boolean => firstFrom(x, a.to) - firstFrom(x, a.from) > 1.2 * a.width;

/// Calls `bar(column, top, bottom)` for every column of the screen that the trace touches; neighbours always meet. `y` maps a value
/// to px, downwards; a gap in the values is a gap in the bars.
export function bars(x: ArrayLike<number>, v: ArrayLike<number | null>, a: Across, y: (value: number) => number,
                     bar: (column: number, top: number, bottom: number) => void): void {
  const perX = a.width / (a.to - a.from);
  const end = Math.min(x.length, firstFrom(x, a.to) + 1);
  let column = Number.NaN, top = 0, bottom = 0, lastY = Number.NaN;
  const flush = (): void => {
    if (!Number.isNaN(column)) bar(column, top, bottom);
    column = Number.NaN;
  };
  for (let k = Math.max(0, firstFrom(x, a.from) - 1); k < end; ++k) {
    const value = v[k];
    if (value === null || value === undefined) {
      flush();
      lastY = Number.NaN;
      continue;
    }
    const c = Math.floor(a.left + (x[k]! - a.from) * perX), py = y(value);
    if (c === column) {
      if (py < top) top = py;
      if (py > bottom) bottom = py;
    } else {
      // Between two columns the line goes half its way in each.
      const half = Number.isNaN(lastY) ? py : (lastY + py) / 2;
      top = Math.min(top, half);
      bottom = Math.max(bottom, half);
      const before = column;
      flush();
      // Where rows are far apart the line crosses columns that hold none.
      for (let m = before + 1; m < c; ++m) {
        const at = lastY + ((py - lastY) * (m - before)) / (c - before);
        bar(m, at, at);
      }
      column = c;
      top = Math.min(py, half);
      bottom = Math.max(py, half);
    }
    lastY = py;
  }
  flush();
}
