// A table under hand: values in SI, what was changed and every step back. Pure: no page, no server.

export interface Range {
  i0: number;
  j0: number;
  i1: number;
  j1: number;
}

export const sorted = (r: Range): Range =>
    ({i0: Math.min(r.i0, r.i1), j0: Math.min(r.j0, r.j1), i1: Math.max(r.i0, r.i1), j1: Math.max(r.j0, r.j1)});

export const sizeOf = (r: Range): number => {
  const s = sorted(r);
  return (s.i1 - s.i0 + 1) * (s.j1 - s.j0 + 1);
};

export function* nodesOf(r: Range, nx: number): Generator<number> {
  const s = sorted(r);
  for (let j = s.j0; j <= s.j1; ++j) for (let i = s.i0; i <= s.i1; ++i) yield j * nx + i;
}

const kMostSteps = 200;

export class Edits {
  readonly nx: number;
  readonly ny: number;
  values: Float64Array;
  private past: Float64Array[] = [];
  private future: Float64Array[] = [];

  constructor(readonly x: readonly number[], readonly y: readonly number[], readonly base: readonly number[]) {
    this.nx = x.length;
    this.ny = y.length;
    this.values = Float64Array.from(base);
  }

  /// Nodes that differ from the table in force, by more than what is shown of a figure.
  changed(least = 1e-9): number[] {
    const out: number[] = [];
    for (let k = 0; k < this.values.length; ++k) {
      if (Math.abs(this.values[k]! - this.base[k]!) > least) out.push(k);
    }
    return out;
  }

  get canUndo(): boolean { return this.past.length > 0; }
  get canRedo(): boolean { return this.future.length > 0; }

  undo(): void { this.swap(this.past, this.future); }
  redo(): void { this.swap(this.future, this.past); }

  private swap(from: Float64Array[], to: Float64Array[]): void {
    const there = from.pop();
    if (!there) return;
    to.push(this.values);
    this.values = there;
  }

  /// One step that can be taken back; a step that changes nothing is none.
  change(make: (v: Float64Array) => void): void {
    const next = this.values.slice();
    make(next);
    if (next.every((v, k) => v === this.values[k])) return;
    this.past.push(this.values);
    if (this.past.length > kMostSteps) this.past.shift();
    this.future = [];
    this.values = next;
  }

  each(r: Range, f: (v: number, node: number) => number): void {
    this.change((v) => {
      for (const k of nodesOf(r, this.nx)) v[k] = f(v[k]!, k);
    });
  }

  /// What lies between the edges of the range follows them: along a row or a column linear in the axis; in a block the
  /// surface through all four edges (Coons 1967): both ways of joining opposite edges, less what they share.
  fill(r: Range): void {
    const {i0, j0, i1, j1} = sorted(r);
    const at = (v: Float64Array, i: number, j: number): number => v[j * this.nx + i]!;
    const s = (i: number): number => (i1 === i0 ? 0 : (this.x[i]! - this.x[i0]!) / (this.x[i1]! - this.x[i0]!));
    const t = (j: number): number => (j1 === j0 ? 0 : (this.y[j]! - this.y[j0]!) / (this.y[j1]! - this.y[j0]!));
    this.change((v) => {
      const from = v.slice();
      for (let j = j0; j <= j1; ++j) {
        for (let i = i0; i <= i1; ++i) {
          const a = s(i), b = t(j);
          const across = at(from, i0, j) * (1 - a) + at(from, i1, j) * a;
          const along = at(from, i, j0) * (1 - b) + at(from, i, j1) * b;
          const corners = (at(from, i0, j0) * (1 - a) + at(from, i1, j0) * a) * (1 - b) +
              (at(from, i0, j1) * (1 - a) + at(from, i1, j1) * a) * b;
          v[j * this.nx + i] = j0 === j1 ? across : i0 === i1 ? along : across + along - corners;
        }
      }
    });
  }

  /// Every node of the range moves towards the mean of its neighbours, each weighted by how well it is known (1/sd²): what
  /// is proven stays, a guess follows. Without evidence all weigh the same.
  soften(r: Range, sd: readonly number[] | null): void {
    const {nx, ny} = this;
    const weight = (k: number): number => (sd && sd[k]! > 0 ? 1 / (sd[k]! * sd[k]!) : 1);
    this.change((v) => {
      const from = v.slice();
      for (const k of nodesOf(r, nx)) {
        const i = k % nx, j = Math.floor(k / nx);
        const near = [i > 0 ? k - 1 : -1, i < nx - 1 ? k + 1 : -1, j > 0 ? k - nx : -1, j < ny - 1 ? k + nx : -1]
            .filter((n) => n >= 0);
        const sum = near.reduce((a, n) => a + weight(n), 0);
        const mean = near.reduce((a, n) => a + weight(n) * from[n]!, 0) / sum;
        const own = weight(k), others = sum / near.length;
        v[k] = (own * from[k]! + others * mean) / (own + others);
      }
    });
  }

  /// A block of values from node (i, j) on, rows from high load to low as they are seen; what sticks out is left off.
  /// Returns how many nodes got a value.
  paste(i: number, j: number, block: readonly (readonly (number | null)[])[]): number {
    let set = 0;
    this.change((v) => {
      block.forEach((row, down) => row.forEach((value, right) => {
        const a = i + right, b = j - down;
        if (value === null || a >= this.nx || b < 0) return;
        v[b * this.nx + a] = value;
        ++set;
      }));
    });
    return set;
  }
}
