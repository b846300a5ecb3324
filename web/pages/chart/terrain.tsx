// The terrain chart as a person handles it: point at a node, walk with the arrow keys, draw a section line.

import type {JSX} from 'preact';
import {useMemo, useRef, useState} from 'preact/hooks';
import {drawTerrain, layoutOf} from '../../chart/draw.ts';
import {nearestNode} from '../../chart/field.ts';
import {KeptGround} from '../../chart/kept_ground.ts';
import {xBack, xOf, yBack, yOf} from '../../chart/frame.ts';
import type {Scene} from '../../chart/scene.ts';
import {howLong} from '../../lib/number.ts';
import type {Chart} from '../../lib/contract.ts';
import {useCanvas} from '../../view/pieces.tsx';

type Line = NonNullable<Scene['section']>;

export function Terrain(p: {
  scene: Scene; chart: Chart; height: number; node: number | null; setNode(node: number | null): void;
  setSection?: (line: Line, done: boolean) => void; label: string;
}): JSX.Element {
  const {scene} = p;
  const [pinned, setPinned] = useState(false);
  const begun = useRef<{x: number; y: number; drawing: boolean; end: 'a' | 'b' | null} | null>(null);
  const [painted, setPainted] = useState(0);
  const ground = useMemo(() => new KeptGround(() => setPainted((n) => n + 1)), []);
  const canvas = useCanvas((c, width, height, ink) => drawTerrain(c, ground, scene, layoutOf(width, height), ink), [scene, painted]);
  const {box} = layoutOf(canvas.width || 100, canvas.height || 100);
  const nx = scene.x.length, ny = scene.y.length;

  const place = (e: PointerEvent): [number, number] => {
    const r = canvas.ref.current!.getBoundingClientRect();
    return [e.clientX - r.left, e.clientY - r.top];
  };
  const nodeAt = (px: number, py: number): number | null => {
    if (px < box.left - 8 || px > box.left + box.width + 8 || py < box.top - 8 || py > box.top + box.height + 8) return null;
    return nearestNode({x: scene.x, y: scene.y, v: []}, xBack(box, scene.xScale, px), yBack(box, scene.yScale, py),
                       box.width, box.height);
  };
  const inside = (px: number, py: number): [number, number] => [
    Math.min(scene.xScale.high, Math.max(scene.xScale.low, xBack(box, scene.xScale, px))),
    Math.min(scene.yScale.high, Math.max(scene.yScale.low, yBack(box, scene.yScale, py))),
  ];
  const down = (e: PointerEvent): void => {
    if (!p.setSection || e.button !== 0) return;
    const [x, y] = place(e);
    begun.current = {x, y, drawing: false, end: null};
    (e.currentTarget as Element).setPointerCapture(e.pointerId);
  };
  const move = (e: PointerEvent): void => {
    const [x, y] = place(e);
    const b = begun.current;
    if (b && p.setSection && (b.drawing || Math.hypot(x - b.x, y - b.y) > 12)) {
      b.drawing = true;
      const from = inside(b.x, b.y), to = inside(x, y);
      p.setSection(ordered(from, to), false);
      return;
    }
    if (e.pointerType === 'mouse' && !pinned) p.setNode(nodeAt(x, y));
  };
  const up = (e: PointerEvent): void => {
    const [x, y] = place(e);
    const b = begun.current;
    begun.current = null;
    if (b?.drawing) {
      p.setSection?.(ordered(inside(b.x, b.y), inside(x, y)), true);
      return;
    }
    const node = nodeAt(x, y);
    setPinned(node !== null && !(pinned && node === p.node));
    p.setNode(node);
  };
  const key = (e: KeyboardEvent): void => {
    const at = p.node ?? Math.floor(ny / 2) * nx + Math.floor(nx / 2);
    let i = at % nx, j = Math.floor(at / nx);
    switch (e.key) {
      case 'ArrowLeft': i = Math.max(0, i - 1); break;
      case 'ArrowRight': i = Math.min(nx - 1, i + 1); break;
      case 'ArrowUp': j = Math.min(ny - 1, j + 1); break;
      case 'ArrowDown': j = Math.max(0, j - 1); break;
      case 'Home': i = 0; break;
      case 'End': i = nx - 1; break;
      case 'PageUp': j = ny - 1; break;
      case 'PageDown': j = 0; break;
      case 'Enter': case ' ':
        p.setSection?.({x0: scene.x[0]!, y0: scene.y[j]!, x1: scene.x[nx - 1]!, y1: scene.y[j]!}, true);
        break;
      case 'Escape': setPinned(false); p.setNode(null); return;
      default: return;
    }
    e.preventDefault();
    setPinned(true);
    p.setNode(j * nx + i);
  };
  return (
    <figure class="terrain" style={{height: `${p.height}px`}}>
      <div class="canvas-hold" tabIndex={0} role="application" aria-roledescription="terrain chart" aria-label={p.label}
           aria-describedby="terrain-help" onKeyDown={key} onBlur={() => { if (!pinned) p.setNode(null); }}>
        <canvas ref={canvas.ref} role="img" aria-label={p.label} onPointerDown={down} onPointerMove={move} onPointerUp={up}
                onPointerLeave={() => { if (!pinned && !begun.current) p.setNode(null); }}
                style={{touchAction: p.setSection ? 'none' : 'auto', cursor: 'crosshair'}} />
      </div>
      <p id="terrain-help" class="hidden">
        Arrow keys walk from node to node, Enter lays the section through the node's load, Escape lets go.
      </p>
      {scene.section && p.setSection && canvas.width > 0
        ? <Ends scene={scene} box={box} set={p.setSection} line={scene.section} /> : null}
      {p.node !== null && canvas.width > 0
        ? <Callout chart={p.chart} scene={scene} node={p.node} box={box} width={canvas.width} /> : null}
      <p class="hidden" aria-live="polite">{p.node !== null ? p.chart.says[p.node] : ''}</p>
    </figure>
  );
}

const ordered = (a: [number, number], b: [number, number]): Line =>
    a[0] <= b[0] ? {x0: a[0], y0: a[1], x1: b[0], y1: b[1]} : {x0: b[0], y0: b[1], x1: a[0], y1: a[1]};

interface Box { left: number; top: number; width: number; height: number }

/// The letters at the ends of the section line; each can be moved with the arrow keys.
function Ends(p: {scene: Scene; box: Box; line: Line; set(line: Line, done: boolean): void}): JSX.Element {
  const {scene, box, line} = p;
  const one = (name: string, x: number, y: number, put: (x: number, y: number) => Line): JSX.Element => {
    const stepX = (scene.xScale.high - scene.xScale.low) / 40, stepY = (scene.yScale.high - scene.yScale.low) / 40;
    const key = (e: KeyboardEvent): void => {
      const dx = e.key === 'ArrowLeft' ? -1 : e.key === 'ArrowRight' ? 1 : 0;
      const dy = e.key === 'ArrowDown' ? -1 : e.key === 'ArrowUp' ? 1 : 0;
      if (dx === 0 && dy === 0) return;
      e.preventDefault();
      p.set(put(Math.min(scene.xScale.high, Math.max(scene.xScale.low, x + dx * stepX)),
                Math.min(scene.yScale.high, Math.max(scene.yScale.low, y + dy * stepY))), true);
    };
    const left = name === 'A';
    return (
      <button class="section-end" onKeyDown={key} aria-label={`Section end ${name}: arrow keys move it`}
              style={{left: `${xOf(box, scene.xScale, x) + (left ? -26 : 8)}px`, top: `${yOf(box, scene.yScale, y) - 30}px`}}>
        {name}
      </button>
    );
  };
  return (
    <>
      {one('A', line.x0, line.y0, (x, y) => ({...line, x0: x, y0: y}))}
      {one('A′', line.x1, line.y1, (x, y) => ({...line, x1: x, y1: y}))}
    </>
  );
}

function Callout(p: {chart: Chart; scene: Scene; node: number; box: Box; width: number}): JSX.Element {
  const nx = p.scene.x.length;
  const x = xOf(p.box, p.scene.xScale, p.scene.x[p.node % nx]!);
  const y = yOf(p.box, p.scene.yScale, p.scene.y[Math.floor(p.node / nx)]!);
  const wide = 250, right = x < p.box.left + p.box.width / 2;
  const left = right ? Math.min(x + 40, p.width - wide - 4) : Math.max(4, x - 40 - wide);
  const top = Math.max(4, Math.min(y - 70, p.box.top + p.box.height - 110));
  // A figure and its unit stay on one line.
  const [first, ...rest] = (p.chart.says[p.node] ?? '').replace(/(?<=\d|±) (?=[\d%]|kPa|inHg|rpm|s\b)/g, '\u00a0').split(/[;.] (?=\S)/);
  const on = p.chart.rests_on.filter((r) => (r.seconds[p.node] ?? 0) >= 0.5);
  return (
    <>
      <svg class="over" aria-hidden="true">
        <line x1={x + (right ? 7 : -7)} y1={y} x2={right ? left : left + wide} y2={top + 24} stroke="var(--ink)" />
        <circle cx={x} cy={y} r="7" fill="none" stroke="var(--ink)" stroke-width="1.5" />
        <circle cx={x} cy={y} r="1.7" fill="var(--ink)" />
      </svg>
      <div class="callout" style={{left: `${left}px`, top: `${top}px`, width: `${wide}px`}}>
        <p><strong>{first}</strong></p>
        {rest.map((line) => <p key={line} class="small muted">{line}</p>)}
        {on.map((r) => <p key={r.id} class="small muted">driven there: {howLong(r.seconds[p.node]!)} in {r.name}</p>)}
      </div>
    </>
  );
}
