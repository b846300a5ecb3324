// The recording as strips on one time axis: overview, pan, zoom. Drag or arrow keys pan; wheel, pinch, plus and minus zoom.

import type {JSX} from 'preact';
import {useEffect, useMemo, useRef, useState} from 'preact/hooks';
import {get, inJob} from '../../lib/api.ts';
import type {Masks, Recording, Traces} from '../../lib/contract.ts';
import type {Ink} from '../../chart/ink.ts';
import {clock, figure} from '../../lib/number.ts';
import {useCanvas} from '../../view/pieces.tsx';
import {firstShown, shownOf, targetOf} from './channels.ts';
import {Strip, type Letter} from './strip.tsx';
import {inside, merge, panned, wanted, widthOf, zigzag, zoomed, type Held, type Span} from './viewport.ts';

interface Answer {
  held: Held;
  traces: Traces;
  columns: string;
}

/// The newest answer that covers the window; asks for the next one before the edge is reached.
function useTraces(job: string, id: number, columns: readonly number[], whole: Span, view: Span, pixels: number): Traces | null {
  const [answer, set] = useState<Answer | null>(null);
  const flying = useRef(false), next = useRef<string | null>(null);
  const list = columns.join(',');
  const fits = answer !== null && answer.columns === list && answer.traces.id === id;
  const ask = wanted(fits ? answer.held : null, view, whole, pixels);
  useEffect(() => {
    if (!ask || columns.length === 0) return;
    next.current = `/recordings/${id}/traces?channels=${list}&from=${ask.from}&to=${ask.to}&points=${ask.points}`;
    if (flying.current) return;
    flying.current = true;
    void (async () => {
      while (next.current !== null) {
        const path = next.current;
        next.current = null;
        try {
          const t = await get<Traces>(inJob(job, path));
          set({traces: t, columns: list, held: {from: Math.min(t.from, ask.from), to: Math.max(t.to, ask.to), step: t.raw ? 0 : t.step}});
        } catch {
          // The page's own questions say what is wrong.
        }
      }
      flying.current = false;
    })();
  }, [ask?.from, ask?.to, ask?.points, list, id]);
  return answer && answer.traces.id === id ? answer.traces : null;
}

export function TracesView(p: {job: string; recording: Recording; masks: Masks | null; letters: readonly (Letter & {sensor: string})[]}):
    JSX.Element {
  const {recording} = p;
  const hold = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(860);
  const whole: Span = useMemo(() => {
    const end = recording.timed ? Math.max(recording.seconds ?? 0, ...recording.segments.map((s) => s.to_s)) : recording.rows - 1;
    return {from: recording.segments[0]?.from_s ?? 0, to: end || 1};
  }, [recording]);
  const least = recording.timed ? Math.min(2, widthOf(whole)) : 20;
  const [view, setView] = useState<Span>(whole);
  const [columns, setColumns] = useState<number[]>(() => firstShown(recording.channels));
  const target = targetOf(recording.channels);
  const mixture = columns.some((c) => recording.channels.find((x) => x.column === c)?.quantity === 'lambda');
  const asked = mixture && target !== null ? [...columns, target] : columns;
  const traces = useTraces(p.job, recording.id, asked, whole, view, Math.max(200, width - 58));
  useEffect(() => {
    const watch = new ResizeObserver(() => setWidth(hold.current?.clientWidth ?? 860));
    watch.observe(hold.current!);
    return () => watch.disconnect();
  }, []);
  const go = (w: Span): void => setView(inside(w, whole, least));
  const held = useRef(new Map<number, number>());
  const xAt = (clientX: number): number => {
    const r = hold.current!.getBoundingClientRect();
    return view.from + ((clientX - r.left - 58) / Math.max(1, r.width - 58)) * widthOf(view);
  };
  const wheel = (e: WheelEvent): void => {
    e.preventDefault();
    if (Math.abs(e.deltaX) > Math.abs(e.deltaY) || e.shiftKey) {
      go(panned(view, ((e.deltaX || e.deltaY) / Math.max(1, width - 58)) * widthOf(view)));
    } else {
      go(zoomed(view, xAt(e.clientX), 1.0015 ** e.deltaY));
    }
  };
  useEffect(() => {
    const h = hold.current!;
    h.addEventListener('wheel', wheel, {passive: false});
    return () => h.removeEventListener('wheel', wheel);
  });
  const key = (e: KeyboardEvent): void => {
    const w = widthOf(view), middle = (view.from + view.to) / 2;
    switch (e.key) {
      case 'ArrowLeft': go(panned(view, -w / 8)); break;
      case 'ArrowRight': go(panned(view, w / 8)); break;
      case '+': case '=': go(zoomed(view, middle, 0.7)); break;
      case '-': go(zoomed(view, middle, 1 / 0.7)); break;
      case 'Home': go({from: whole.from, to: whole.from + w}); break;
      case 'End': go({from: whole.to - w, to: whole.to}); break;
      case '0': go(whole); break;
      default: return;
    }
    e.preventDefault();
  };
  const move = (e: PointerEvent): void => {
    const before = held.current.get(e.pointerId);
    if (before === undefined) return;
    const perPixel = widthOf(view) / Math.max(1, width - 58);
    if (held.current.size === 1) {
      go(panned(view, (before - e.clientX) * perPixel));
    } else {
      const [other] = [...held.current].filter(([id]) => id !== e.pointerId).map(([, x]) => x);
      const was = Math.abs(before - other!), now = Math.abs(e.clientX - other!);
      if (was > 10 && now > 10) go(zoomed(view, xAt((e.clientX + other!) / 2), was / now));
    }
    held.current.set(e.pointerId, e.clientX);
  };
  const strips = columns.map((c) => recording.channels.find((x) => x.column === c)!).filter(Boolean);
  const rowMasks = (p.masks?.masks ?? []).filter((m) => m.sensor === 'row');
  const labels = useMemo(() => rowMasks.flatMap((m) => m.spans.map(([from, to]) => ({text: m.why, from, to})))
      .filter((l) => widthOf(l) > widthOf(view) / 60).sort((a, b) => a.from - b.from), [p.masks, view]);
  return (
    <>
      <Overview job={p.job} recording={recording} whole={whole} view={view} go={go} width={width} />
      <div ref={hold} class="strips" tabIndex={0} role="application" aria-roledescription="traces"
           aria-label={`Traces of ${recording.name} from ${at(view.from, recording.timed)} to ${at(view.to, recording.timed)}; arrow keys pan, plus and minus zoom, 0 shows all`}
           onKeyDown={key}
           onPointerDown={(e) => { if (e.button === 0) held.current.set(e.pointerId, e.clientX); }}
           onPointerMove={move} onPointerUp={(e) => held.current.delete(e.pointerId)}
           onPointerLeave={(e) => held.current.delete(e.pointerId)} onPointerCancel={(e) => held.current.delete(e.pointerId)}>
        {traces ? strips.map((c, k) => <OneStrip key={c.column} channel={c} traces={traces} recording={recording} masks={p.masks}
                                                  view={view} width={width} labels={k === 0 ? labels : []} last={k === strips.length - 1}
                                                  target={c.quantity === 'lambda' ? target : null} height={strips.length > 3 ? 120 : k === 0 ? 206 : 148}
                                                  letters={p.letters.filter((l) => belongs(l.sensor, c.quantity, strips.map((s) => s.quantity), k))} />)
                : <p class="muted" role="status">Reading the recording…</p>}
      </div>
      <div class="strip-tools no-print">
        <span class="hatch-key"><i class="hatched" aria-hidden="true" /> set aside: not used for learning</span>
        <span class="words">
          <button onClick={() => go(zoomed(view, (view.from + view.to) / 2, 0.6))}>Closer</button>
          <button onClick={() => go(zoomed(view, (view.from + view.to) / 2, 1 / 0.6))}>Wider</button>
          <button onClick={() => go(whole)}>All of it</button>
        </span>
      </div>
      <details class="channel-pick no-print">
        <summary>Channels shown, {columns.length} of {recording.channels.length}</summary>
        <div class="checks">
          {recording.channels.map((c) => (
            <label key={c.column}>
              <input type="checkbox" checked={columns.includes(c.column)} disabled={!columns.includes(c.column) && columns.length >= 8}
                     onChange={(e) => setColumns(e.currentTarget.checked ? [...columns, c.column] : columns.filter((x) => x !== c.column))} />
              {' '}{c.header} <span class="label">{c.label}</span>
            </label>
          ))}
        </div>
      </details>
    </>
  );
}

const at = (x: number, timed: boolean): string => (timed ? clock(x) : `row ${figure(x)}`);

/// A note stands on the strip of its sensor, else on the first.
const belongs = (sensor: string, quantity: string, all: readonly string[], k: number): boolean =>
    all.includes(sensor) ? sensor === quantity && all.indexOf(sensor) === k : k === 0;

function OneStrip(p: {
  channel: Recording['channels'][number]; traces: Traces; recording: Recording; masks: Masks | null; view: Span; width: number;
  labels: {text: string; from: number; to: number}[]; last: boolean; target: number | null; height: number; letters: readonly Letter[];
}): JSX.Element | null {
  const {channel: c, traces: t} = p;
  const shown = useMemo(() => shownOf(c), [c]);
  const data = useMemo(() => {
    const own = t.channels.find((x) => x.column === c.column), wantedTarget = t.channels.find((x) => x.column === p.target);
    if (!own) return null;
    const [x, y] = zigzag(t.x, t.raw ? 0 : t.step, own.low, own.high, own.first, own.last);
    const target = wantedTarget ? zigzag(t.x, t.raw ? 0 : t.step, wantedTarget.low, wantedTarget.high, wantedTarget.first, wantedTarget.last)[1] : null;
    return {x, y, target};
  }, [t, c.column, p.target]);
  const masks = useMemo(() => merge((p.masks?.masks ?? [])
      .filter((m) => m.sensor === 'row' || (m.sensor === c.quantity && m.bank === c.bank)).flatMap((m) => m.spans)), [p.masks, c]);
  const range = useMemo((): [number, number] => {
    if (c.quantity === 'lambda') return [0.75, 1.3];
    const low = (c.low ?? 0) * shown.factor + shown.offset, high = (c.high ?? 1) * shown.factor + shown.offset;
    const room = (high - low || Math.abs(high) || 1) * 0.06;
    return [low - room, high + room];
  }, [c, shown.unit]);
  if (!data) return null;
  const name = c.label.charAt(0).toUpperCase() + c.label.slice(1);
  const note = c.quantity === 'lambda' ? `λ${c.bank > 1 ? `, bank ${c.bank}` : ''}; thin line: target. Blue, leaner than wanted; ochre, richer` : shown.unit;
  return <Strip title={name} note={note} data={data} shown={shown} range={range} view={p.view} masks={masks} labels={p.labels} letters={p.letters}
                height={p.height} width={p.width} timed={p.recording.timed} last={p.last} mixture={c.quantity === 'lambda'} />;
}

/// The whole drive as a silhouette of engine speed, with a bracket about what is shown.
function Overview(p: {job: string; recording: Recording; whole: Span; view: Span; width: number; go(s: Span): void}): JSX.Element {
  const [t, set] = useState<Traces | null>(null);
  const rpm = p.recording.channels.find((c) => c.quantity === 'rpm') ?? p.recording.channels.find((c) => c.quantity !== 'time');
  useEffect(() => {
    set(null);
    if (!rpm) return;
    get<Traces>(inJob(p.job, `/recordings/${p.recording.id}/traces?channels=${rpm.column}&points=600`)).then(set, () => undefined);
  }, [p.recording.id]);
  const x = (v: number, w: number): number => 58 + ((v - p.whole.from) / widthOf(p.whole)) * (w - 58);
  const kept = useRef<{canvas: HTMLCanvasElement; of: readonly unknown[]} | null>(null);
  const silhouette = (c: CanvasRenderingContext2D, w: number, h: number, ink: Ink): void => {
    const own = t?.channels[0];
    if (!t || !own) return;
    const most = Math.max(1, ...own.high.filter((v): v is number => v !== null));
    c.fillStyle = ink.rule;
    t.x.forEach((at, k) => {
      const v = own.high[k];
      if (v == null) return;
      const top = h - 12 - (v / most) * (h - 14);
      c.fillRect(x(at, w), top, Math.max(1, ((t.step || widthOf(p.whole) / t.x.length) / widthOf(p.whole)) * (w - 58) + 0.5), h - 12 - top);
    });
  };
  const canvas = useCanvas((c, w, h, ink) => {
    c.clearRect(0, 0, w, h);
    const of = [t, w, h, ink, c.canvas.width];
    if (kept.current === null || of.some((v, k) => v !== kept.current!.of[k])) {
      const behind = kept.current?.canvas ?? document.createElement('canvas');
      behind.width = c.canvas.width;
      behind.height = c.canvas.height;
      const g = behind.getContext('2d')!;
      g.setTransform(c.getTransform());
      silhouette(g, w, h, ink);
      kept.current = {canvas: behind, of};
    }
    c.drawImage(kept.current.canvas, 0, 0, w, h);
    const a = x(p.view.from, w), b = x(p.view.to, w);
    c.strokeStyle = ink.ink;
    c.lineWidth = 2;
    c.beginPath();
    c.moveTo(a + 1, 2);
    c.lineTo(a + 1, h - 11);
    c.lineTo(b - 1, h - 11);
    c.lineTo(b - 1, 2);
    c.stroke();
    c.lineWidth = 0.8;
    c.strokeStyle = ink.rule;
    c.beginPath();
    c.moveTo(a, h - 10);
    c.lineTo(58, h);
    c.moveTo(b, h - 10);
    c.lineTo(w, h);
    c.stroke();
  }, [t, p.view]);
  const drag = (e: PointerEvent): void => {
    if (e.buttons !== 1) return;
    const r = canvas.ref.current!.getBoundingClientRect();
    const middle = p.whole.from + ((e.clientX - r.left - 58) / Math.max(1, r.width - 58)) * widthOf(p.whole);
    p.go({from: middle - widthOf(p.view) / 2, to: middle + widthOf(p.view) / 2});
  };
  return <canvas ref={canvas.ref} class="overview" role="img" aria-label="The whole drive, engine speed; the bracket holds what is shown"
                 onPointerDown={drag} onPointerMove={drag} style={{touchAction: 'none'}} />;
}
