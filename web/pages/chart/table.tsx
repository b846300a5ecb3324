// The same data as a table: keyboard, ranges, copy and paste, undo. Rows run from high load to low, as on the chart.

import type {JSX} from 'preact';
import {useEffect, useLayoutEffect, useRef, useState} from 'preact/hooks';
import {figure, parseFigure, signed} from '../../lib/number.ts';
import {shownOn} from '../../chart/frame.ts';
import type {Scene} from '../../chart/scene.ts';
import type {Chart} from '../../lib/contract.ts';
import {writeBlock} from './clipboard.ts';
import {sorted, type Edits, type Range} from './edits.ts';

export type View = 'value' | 'estimate' | 'correction' | 'half width' | 'seconds';

export interface TableProps {
  chart: Chart;
  scene: Scene;
  edits: Edits;
  version: number;
  view: View;
  range: Range;
  setRange(r: Range): void;
  changed(): void;
  pasted(text: string): void;
  digits: number;
}

export function Table(p: TableProps): JSX.Element {
  const {chart, scene, edits, range} = p;
  const [typing, setTyping] = useState<string | null>(null);
  const hold = useRef<HTMLDivElement>(null);
  const dragging = useRef(false);
  const r = sorted(range);
  const nx = edits.nx, ny = edits.ny;
  const active = {i: range.i1, j: range.j1};
  const editable = p.view === 'value';

  useEffect(() => {
    if (typing !== null) return;
    const cell = hold.current?.querySelector<HTMLElement>(`[data-node="${active.j * nx + active.i}"]`);
    if (cell && hold.current?.contains(document.activeElement)) cell.focus({preventScroll: false});
  }, [active.i, active.j, typing]);

  const go = (i: number, j: number, extend: boolean): void => {
    const to = {i1: Math.min(nx - 1, Math.max(0, i)), j1: Math.min(ny - 1, Math.max(0, j))};
    p.setRange(extend ? {...range, ...to} : {i0: to.i1, j0: to.j1, ...to});
  };
  const commit = (text: string, di: number, dj: number): void => {
    setTyping(null);
    const value = parseFigure(text);
    if (value !== null) {
      edits.each({i0: active.i, j0: active.j, i1: active.i, j1: active.j}, () => value / chart.factor);
      p.changed();
    }
    if (di !== 0 || dj !== 0) go(active.i + di, active.j + dj, false);
    hold.current?.querySelector<HTMLElement>(`[data-node="${active.j * nx + active.i}"]`)?.focus();
  };
  const key = (e: KeyboardEvent): void => {
    if (typing !== null) return;
    const command = e.ctrlKey || e.metaKey;
    const moves: Record<string, [number, number]> = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1]};
    const way = moves[e.key];
    if (way) {
      const far = command ? Math.max(nx, ny) : 1;
      go(active.i + way[0] * far, active.j + way[1] * far, e.shiftKey);
    } else if (command && (e.key === 'z' || e.key === 'Z')) {
      if (e.shiftKey) edits.redo();
      else edits.undo();
      p.changed();
    } else if (command && e.key === 'y') {
      edits.redo();
      p.changed();
    } else if (command && e.key === 'a') {
      p.setRange({i0: 0, j0: 0, i1: nx - 1, j1: ny - 1});
    } else if (e.key === 'Home') {
      go(0, command ? ny - 1 : active.j, e.shiftKey);
    } else if (e.key === 'End') {
      go(nx - 1, command ? 0 : active.j, e.shiftKey);
    } else if (e.key === 'PageUp' || e.key === 'PageDown') {
      go(active.i, e.key === 'PageUp' ? ny - 1 : 0, e.shiftKey);
    } else if (e.key === 'Enter') {
      go(active.i, active.j + (e.shiftKey ? 1 : -1), false);
    } else if (e.key === 'Escape') {
      go(active.i, active.j, false);
    } else if (editable && e.key === 'F2') {
      setTyping(figure(edits.values[active.j * nx + active.i]! * chart.factor, p.digits));
    } else if (editable && (e.key === 'Delete' || e.key === 'Backspace')) {
      edits.each(range, (_, k) => edits.base[k]!);
      p.changed();
    } else if (editable && !command && !e.altKey && /^[-+.,\d]$/.test(e.key)) {
      setTyping(e.key);
    } else {
      return;
    }
    e.preventDefault();
  };
  const copy = (e: ClipboardEvent): void => {
    if (typing !== null) return;
    e.preventDefault();
    e.clipboardData?.setData('text/plain', writeBlock(edits.values, nx, r, chart.factor, p.digits + 2));
  };
  const paste = (e: ClipboardEvent): void => {
    if (typing !== null || !editable) return;
    e.preventDefault();
    p.pasted(e.clipboardData?.getData('text/plain') ?? '');
  };
  const rows: JSX.Element[] = [];
  for (let j = ny - 1; j >= 0; --j) {
    const inRow = j >= r.j0 && j <= r.j1;
    rows.push(
        <tr key={j}>
          <th scope="row" class={inRow ? 'on' : ''}>{figure(shownOn(scene.yScale, scene.y[j]!), scene.yScale.digits)}</th>
          {scene.x.map((_, i) => <Cell key={i} {...p} i={i} j={j} r={r} active={active} typing={typing}
                                       setTyping={setTyping} commit={commit} />)}
        </tr>);
  }
  const pick = (e: PointerEvent): [number, number] | null => {
    const cell = (document.elementFromPoint(e.clientX, e.clientY) as HTMLElement | null)?.closest<HTMLElement>('[data-node]');
    if (!cell) return null;
    const k = Number(cell.dataset['node']);
    return [k % nx, Math.floor(k / nx)];
  };
  return (
    <div class="grid-hold" ref={hold} onKeyDown={key} onCopy={copy} onPaste={paste}
         onPointerDown={(e) => {
           if ((e.target as HTMLElement).tagName === 'INPUT') return;
           const at = pick(e);
           if (!at) return;
           dragging.current = e.pointerType === 'mouse';
           go(at[0], at[1], e.shiftKey);
         }}
         onPointerMove={(e) => {
           if (!dragging.current) return;
           const at = pick(e);
           if (at) go(at[0], at[1], true);
         }}
         onPointerUp={() => (dragging.current = false)}>
      <table class="grid" role="grid" aria-label={`${chart.table === 've' ? 'VE' : chart.table.replaceAll('_', ' ')}, ${p.view}`}
             aria-multiselectable="true">
        <thead>
          <tr>
            <th scope="col" class="corner">{scene.yScale.unit}</th>
            {scene.x.map((x, i) => <th key={i} scope="col" class={i >= r.i0 && i <= r.i1 ? 'on' : ''}>{figure(x)}</th>)}
            <th class="unit" aria-hidden="true">{scene.xScale.unit}</th>
          </tr>
        </thead>
        <tbody>{rows}</tbody>
      </table>
    </div>
  );
}

function shownOf(p: TableProps, k: number): string {
  const c = p.chart;
  switch (p.view) {
    case 'value': return figure(p.edits.values[k]! * c.factor, p.digits);
    case 'estimate': return c.estimate ? figure(c.estimate[k]! * c.factor, p.digits) : '–';
    case 'correction': {
      const v = p.scene.correction?.[k];
      return v === undefined ? '–' : signed(v * 100, 1);
    }
    case 'half width': return c.half_width_95 ? figure(c.half_width_95[k]! * 100, 1) : '–';
    case 'seconds': return c.seconds ? figure(c.seconds[k]!, 0) : '–';
  }
}

function Cell(p: TableProps & {
  i: number; j: number; r: Range; active: {i: number; j: number}; typing: string | null;
  setTyping(t: string | null): void; commit(text: string, di: number, dj: number): void;
}): JSX.Element {
  const k = p.j * p.edits.nx + p.i, {r, active} = p;
  const here = active.i === p.i && active.j === p.j;
  const inside = p.i >= r.i0 && p.i <= r.i1 && p.j >= r.j0 && p.j <= r.j1;
  const mark = p.chart.mark?.[k] ?? null;
  const changed = Math.abs(p.edits.values[k]! - p.edits.base[k]!) > 1e-9;
  const edge = inside ? `${p.i === r.i0 ? ' west' : ''}${p.i === r.i1 ? ' east' : ''}${p.j === r.j1 ? ' north' : ''}` +
      `${p.j === r.j0 ? ' south' : ''}` : '';
  const kind = mark === 'measured' ? 'measured' : mark === 'inferred' ? 'inferred' : mark === 'prior only' ? 'prior' : 'plain';
  return (
    <td role="gridcell" data-node={k} tabIndex={here ? 0 : -1} aria-selected={inside}
        class={`${kind}${edge}${here ? ' here' : ''}${changed && p.view === 'value' ? ' changed' : ''}`}
        onDblClick={() => p.view === 'value' && p.setTyping(figure(p.edits.values[k]! * p.chart.factor, p.digits))}>
      {here && p.typing !== null ? <Entry p={p} text={p.typing} /> : (
        <>
          {mark ? <i class={`mark ${kind}`} aria-hidden="true" /> : null}
          <span>{shownOf(p, k)}</span>
          {mark ? <span class="hidden">, {mark}</span> : null}
        </>
      )}
    </td>
  );
}

function Entry(q: {p: {commit(text: string, di: number, dj: number): void; setTyping(t: string | null): void}; text: string}):
    JSX.Element {
  const ref = useRef<HTMLInputElement>(null);
  const left = useRef(false);
  // Before the next key comes: a figure that is typed fast loses none of its digits.
  useLayoutEffect(() => {
    const input = ref.current!;
    input.focus();
    if (q.text.length === 1) input.setSelectionRange(1, 1);
    else input.select();
  }, []);
  const end = (di: number, dj: number): void => {
    left.current = true;
    q.p.commit(ref.current!.value, di, dj);
  };
  return (
    <input ref={ref} class="entry" inputMode="decimal" aria-label="Value" defaultValue={q.text}
           onKeyDown={(e) => {
             e.stopPropagation();
             if (e.key === 'Enter') end(0, e.shiftKey ? 1 : -1);
             else if (e.key === 'Tab') end(e.shiftKey ? -1 : 1, 0);
             else if (e.key === 'Escape') {
               left.current = true;
               q.p.commit('', 0, 0);
             } else return;
             e.preventDefault();
           }}
           onBlur={() => { if (!left.current) end(0, 0); }} />
  );
}

