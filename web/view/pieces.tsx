// The few pieces that pages are made of: sentence, work in progress, error in words, caution, dialog, title block.

import type {ComponentChildren, JSX} from 'preact';
import {useEffect, useLayoutEffect, useRef, useState} from 'preact/hooks';
import {reachable, Refusal, stopWork} from '../lib/api.ts';
import {kDark, kLight, type Ink} from '../chart/ink.ts';
import {dark, head, progress} from '../lib/store.ts';

/// Paper is white and has three dots where the screen has one.
const kPrint = 3, kPaper: Ink = {...kLight, paper: '#FFFFFF', ground: '#FFFFFF'};

/// The sentence that answers the page's question, and one muted line under it.
export function Sentence(p: {children: string | null; under?: ComponentChildren}): JSX.Element {
  const text = p.children ?? '';
  return (
    <header>
      <h1 id="answer" class={text.length > 85 ? 'long' : ''} aria-live="polite">{text}</h1>
      <div class="under">{p.under}</div>
    </header>
  );
}

export interface Asked<T> {
  value: T | null;
  error: Refusal | null;
  busy: boolean;
  again(): void;
}

/// Asks when `key` changes (null: does not ask) and keeps the last answer until the next one is there.
export function useAsked<T>(key: string | null, ask: (stop: AbortSignal) => Promise<T>): Asked<T> {
  const [state, set] = useState<{value: T | null; error: Refusal | null; busy: boolean}>(
      {value: null, error: null, busy: key !== null});
  const [round, next] = useState(0);
  const last = useRef<string | null>(null);
  useEffect(() => {
    if (key === null) {
      set({value: null, error: null, busy: false});
      return;
    }
    const stop = new AbortController();
    const sameThing = last.current?.split('@')[0] === key.split('@')[0];
    last.current = key;
    set((s) => ({value: sameThing ? s.value : null, error: null, busy: true}));
    ask(stop.signal).then(
        (value) => !stop.signal.aborted && set({value, error: null, busy: false}),
        (e: unknown) => {
          if (stop.signal.aborted) return;
          const error = e instanceof Refusal ? e :
              new Refusal({code: 'bug', where: '', message: e instanceof Error ? e.message : String(e)}, 0);
          set((s) => ({value: s.value, error, busy: false}));
        });
    return () => stop.abort();
  }, [key, round]);
  const lost = state.error?.problem.code === 'silent';
  useEffect(() => {
    if (lost && reachable.value) next((n) => n + 1);
  }, [lost, reachable.value]);
  return {...state, again: () => next((n) => n + 1)};
}

/// An error in the server's own words. That the program does not answer is said once, by the banner.
export function Wrong(p: {error: Refusal | null; again?: () => void}): JSX.Element | null {
  if (!p.error || p.error.problem.code === 'silent') return null;
  return (
    <div class="note" role="alert">
      <p>{p.error.line}</p>
      {p.again ? <p><button onClick={p.again}>Try again</button></p> : null}
    </div>
  );
}

/// Progress of long work, with a way to stop it.
export function AtWork(p: {job: string; what: string; says: string}): JSX.Element {
  const now = progress.value[`${p.job}/${p.what}`];
  const share = now?.share ?? null;
  return (
    <div role="status">
      <p>{now?.says ? now.says : p.says}{share !== null ? `, ${Math.round(share * 100)} %` : ''}</p>
      <div class="progress" aria-hidden="true">
        <div class={share === null ? 'unsure' : ''} style={share === null ? {} : {width: `${share * 100}%`}} />
      </div>
      {now && (now.state === 'running' || now.state === 'waiting')
        ? <button onClick={() => void stopWork(now.id).catch(() => undefined)}>Stop this</button> : null}
    </div>
  );
}

export function Caution(p: {title: string; children: ComponentChildren}): JSX.Element {
  return (
    <aside class="caution" aria-label={p.title}>
      <h3>{p.title}</h3>
      {p.children}
    </aside>
  );
}

export function TitleBlock(p: {cells: readonly (readonly [label: string, value: string])[]}): JSX.Element {
  return (
    <dl class="title-block">
      {p.cells.map(([label, value]) => <div key={label}><dt>{label}</dt><dd>{value}</dd></div>)}
    </dl>
  );
}

export function Dialog(p: {title: string; children: ComponentChildren; close(): void; wide?: boolean}): JSX.Element {
  const ref = useRef<HTMLDialogElement>(null);
  useLayoutEffect(() => {
    const d = ref.current!;
    if (!d.open) d.showModal();
    return () => d.close();
  }, []);
  return (
    <dialog ref={ref} aria-labelledby="dialog-title" style={p.wide ? {maxWidth: '860px'} : {}}
            onCancel={(e) => { e.preventDefault(); p.close(); }}>
      <h2 id="dialog-title">{p.title}</h2>
      {p.children}
    </dialog>
  );
}

/// Redraws a canvas when its size, the light or the screen's density changes; for printing on white at three times the density.
export function useCanvas(draw: (c: CanvasRenderingContext2D, width: number, height: number, ink: Ink) => void,
                          needs: readonly unknown[]): {ref: preact.RefObject<HTMLCanvasElement>; width: number; height: number} {
  const ref = useRef<HTMLCanvasElement>(null);
  const [size, setSize] = useState({width: 0, height: 0});
  const latest = useRef(draw);
  latest.current = draw;
  const paint = (density: number): void => {
    const canvas = ref.current;
    if (!canvas) return;
    const {width, height} = canvas.getBoundingClientRect();
    if (width < 2 || height < 2) return;
    canvas.width = Math.round(width * density);
    canvas.height = Math.round(height * density);
    const c = canvas.getContext('2d')!;
    c.setTransform(canvas.width / width, 0, 0, canvas.height / height, 0, 0);
    latest.current(c, width, height, density === kPrint ? kPaper : dark.peek() ? kDark : kLight);
  };
  useEffect(() => {
    const canvas = ref.current!;
    const watch = new ResizeObserver(() => {
      const {width, height} = canvas.getBoundingClientRect();
      setSize((s) => (s.width === width && s.height === height ? s : {width, height}));
    });
    watch.observe(canvas);
    const before = (): void => paint(kPrint), after = (): void => paint(devicePixelRatio);
    addEventListener('beforeprint', before);
    addEventListener('afterprint', after);
    void document.fonts.ready.then(() => paint(devicePixelRatio));
    return () => {
      watch.disconnect();
      removeEventListener('beforeprint', before);
      removeEventListener('afterprint', after);
    };
  }, []);
  useLayoutEffect(() => paint(devicePixelRatio), [...needs, dark.value, size.width, size.height]);
  return {ref, ...size};
}

/// A key that changes whenever the job does.
export const atHead = (path: string): string => `${path}@${head.value}`;

/// Saves a text or a file under a name.
export function save(name: string, content: string | Blob): void {
  const url = URL.createObjectURL(typeof content === 'string' ? new Blob([content], {type: 'text/plain'}) : content);
  const a = document.createElement('a');
  a.href = url;
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}
