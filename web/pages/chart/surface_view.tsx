// The surface that can be turned: drag, or the arrow keys; plus and minus come nearer.

import type {JSX} from 'preact';
import {useEffect, useRef, useState} from 'preact/hooks';
import {shownOn, siOn} from '../../chart/frame.ts';
import {kDark, kLight, kTide} from '../../chart/ink.ts';
import type {Scene} from '../../chart/scene.ts';
import {surfaceOn, type Surface, type Turn} from '../../chart/surface.ts';
import {figure, roundTicks} from '../../lib/number.ts';
import {dark} from '../../lib/store.ts';

const kFirst: Turn = {round: -0.55, tilt: 0.55, near: 1};

export function SurfaceView(p: {scene: Scene; values: ArrayLike<number>; name: string; unit: string; height: number}): JSX.Element {
  const canvas = useRef<HTMLCanvasElement>(null);
  const surface = useRef<Surface | null>(null);
  const [missing, setMissing] = useState(false);
  const [turn, setTurn] = useState<Turn>(kFirst);
  const [labels, setLabels] = useState<{text: string; x: number; y: number}[]>([]);
  const [size, setSize] = useState(0);
  const held = useRef<{x: number; y: number} | null>(null);
  const ink = dark.value ? kDark : kLight;

  useEffect(() => {
    surface.current = surfaceOn(canvas.current!);
    if (!surface.current) setMissing(true);
    const watch = new ResizeObserver(() => setSize(canvas.current?.clientWidth ?? 0));
    watch.observe(canvas.current!);
    return () => watch.disconnect();
  }, []);
  useEffect(() => {
    surface.current?.load({x: p.scene.x, y: p.scene.y, values: p.values, sd: p.scene.sd});
  }, [p.scene, p.values]);
  useEffect(() => {
    if (!surface.current) return;
    const at = surface.current.draw(turn, ink.paper, ink.ink);
    const {xScale, yScale} = p.scene, all = Array.from(p.values);
    const low = Math.min(...all);
    const out: {text: string; x: number; y: number}[] = [];
    const put = (text: string, [x, y]: [number, number], dy = 0, dx = 0): void => void out.push({text, x: x + dx, y: y + dy});
    // Along the edges that are nearer to the eye.
    const frontY = Math.cos(turn.round) > 0 ? yScale.low : yScale.high;
    const frontX = Math.sin(turn.round) > 0 ? xScale.low : xScale.high;
    const side = at(frontX, frontY, low)[0] > at((xScale.low + xScale.high) / 2, (yScale.low + yScale.high) / 2, low)[0] ? 18 : -18;
    for (const v of roundTicks(xScale.low, xScale.high, 5)) put(figure(v), at(v, frontY, low), 14);
    put('rpm', at((xScale.low + xScale.high) / 2, frontY, low), 34);
    const shown = [shownOn(yScale, yScale.low), shownOn(yScale, yScale.high)].sort((a, b) => a - b) as [number, number];
    for (const v of roundTicks(shown[0], shown[1], 4)) put(figure(v, yScale.digits), at(frontX, siOn(yScale, v), low), 4, side);
    put(yScale.unit, at(frontX, (yScale.low + yScale.high) / 2, low), 16, side * 2.4);
    setLabels(out);
  }, [turn, p.scene, p.values, ink, size]);

  const key = (e: KeyboardEvent): void => {
    const by: Record<string, Partial<Turn>> = {
      ArrowLeft: {round: turn.round - 0.1}, ArrowRight: {round: turn.round + 0.1},
      ArrowUp: {tilt: Math.min(1.5, turn.tilt + 0.08)}, ArrowDown: {tilt: Math.max(0.05, turn.tilt - 0.08)},
      '+': {near: Math.min(2.5, turn.near * 1.1)}, '-': {near: Math.max(0.6, turn.near / 1.1)}, Home: kFirst,
    };
    const change = by[e.key];
    if (!change) return;
    e.preventDefault();
    setTurn({...turn, ...change});
  };
  const all = Array.from(p.values), low = Math.min(...all), high = Math.max(...all);
  return (
    <figure class="surface" style={{height: `${p.height}px`}}>
      <div class="canvas-hold" tabIndex={0} role="application" aria-roledescription="surface"
           aria-label={`${p.name} as a surface over engine speed and load; arrow keys turn it, plus and minus come nearer, Home as it came`}
           onKeyDown={key}>
        <canvas ref={canvas} style={{touchAction: 'none', cursor: 'grab'}}
                onPointerDown={(e) => {
                  held.current = {x: e.clientX, y: e.clientY};
                  e.currentTarget.setPointerCapture(e.pointerId);
                }}
                onPointerMove={(e) => {
                  const h = held.current;
                  if (!h) return;
                  const dx = e.clientX - h.x, dy = e.clientY - h.y;
                  held.current = {x: e.clientX, y: e.clientY};
                  setTurn((t) => ({...t, round: t.round + dx * 0.008,
                                   tilt: Math.min(1.5, Math.max(0.05, t.tilt + dy * 0.006))}));
                }}
                onPointerUp={() => (held.current = null)} />
      </div>
      {missing ? <p class="note">This browser draws no surfaces (WebGL 2 is missing or switched off). Chart and table show the same.</p> : null}
      {missing ? null : labels.map((l, k) => <span key={k} class="axis-figure" aria-hidden="true"
                                                   style={{left: `${l.x}px`, top: `${l.y}px`}}>{l.text}</span>)}
      {missing ? null : (
        <figcaption class="tide" aria-hidden="true">
          <span>{figure(low, 0)}</span>
          <span class="ramp" style={{background: `linear-gradient(90deg, ${kTide.join(', ')})`}} />
          <span>{figure(high, 0)} {p.unit}</span>
        </figcaption>
      )}
    </figure>
  );
}
