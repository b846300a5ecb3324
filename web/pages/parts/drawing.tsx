// One cylinder, cut: what is measured is drawn as solid metal, what is stated is lightly hatched, what is typical heavily.
// Balloons carry the item numbers of the list.

import type {JSX} from 'preact';
import type {Line, Source} from '../../lib/contract.ts';
import {worst} from './part_groups.ts';

type Find = (section: string, key: string) => Line | undefined;

const fill = (s: Source): string => (s === 'measured' || s === 'computed' ? 'var(--well)' : s === 'stated' ? 'url(#h-stated)' : 'url(#h-typical)');

export function Drawing(p: {sheet: readonly Line[]; next: number | null; open(balloon: number): void}): JSX.Element {
  const find: Find = (section, key) => p.sheet.find((l) => l.section === section && l.key === key);
  const block = worst([find('engine', 'bore'), find('engine', 'stroke')]);
  const piston = worst([find('engine', 'compression')]);
  const head = worst([find('heads', 'flow_intake'), find('heads', 'intake_valve')]);
  const cam = worst([find('cam', 'intake_duration_050'), find('cam', 'intake_lift'), find('cam', 'intake_centreline')]);
  const runner = worst([find('intake', 'runner_length')]);
  const pipe = worst([find('exhaust', 'primary_length'), find('exhaust', 'primary_diameter')]);
  const injector = worst([find('injection', 'injector_flow'), find('injection', 'dead_time')]);
  const pushrods = find('cam', 'tappet')?.value !== 'direct';
  const words = (l: Line | undefined): string => (l ? `${l.value}${l.tolerance ? ` ± ${l.tolerance}` : ''}` : '');
  return (
    <figure class="cut">
      <svg viewBox="0 0 600 474" role="img" aria-label="One cylinder, cut; what is hatched is not measured">
        <defs>
          <pattern id="h-stated" width="6.2" height="6.2" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <rect width="6.2" height="6.2" fill="var(--paper)" /><line x1="0" y1="0" x2="0" y2="6.2" stroke="var(--fog)" stroke-width=".9" />
          </pattern>
          <pattern id="h-typical" width="4.6" height="4.6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <rect width="4.6" height="4.6" fill="var(--paper)" /><line x1="0" y1="0" x2="0" y2="4.6" stroke="var(--fog)" stroke-width="2.5" />
          </pattern>
          <marker id="tick-end" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="7" markerHeight="7" orient="auto-start-reverse">
            <path d="M0 1.5 9 5 0 8.5z" fill="context-stroke" />
          </marker>
        </defs>
        <g stroke="var(--ink)" stroke-width="1.5" stroke-linejoin="round">
          <path d={kRunnerTop} fill={fill(runner)} />
          <path d={kRunnerBottom} fill={fill(runner)} />
          <path d="M24 20h20v94H24v-16h8V36h-8z" fill={fill(runner)} />
          <path d={kPipeTop} fill={fill(pipe)} />
          <path d={kPipeBottom} fill={fill(pipe)} />
          <path d={kHead} fill={fill(head)} />
          <path d={kWallLeft} fill={fill(block)} />
          <path d={kWallRight} fill={fill(block)} />
          <rect x="235" y="236" width="27" height="92" rx="12" fill="var(--paper)" />
          <rect x="430" y="236" width="27" height="92" rx="12" fill="var(--paper)" />
          <path d="M278 256h136v68h-12v24h-24q-2-12-32-12t-32 12h-24v-24h-12z" fill={fill(piston)} />
          <path d="M278 266h6m-6 9h6m-6 9h6m124-18h6m-6 9h6m-6 9h6" stroke-width="3" />
          <circle cx="346" cy="312" r="13" fill="var(--paper)" />
          <path d="M334 326 328 430M358 326l6 104" fill="none" />
          <Valve x={290} angle={-22} lift={6} />
          <Valve x={402} angle={22} lift={0} />
          <path d="M338 104h16v34h4v22h-4v34h-3v6h-10v-6h-3v-34h-4v-22h4z" fill="var(--paper)" />
          <path d="m178 54 12-8 26 38 6 22-6 4-14-16z" fill={fill(injector)} />
        </g>
        {pushrods ? <Pushrods cam={cam} /> : <Cams cam={cam} />}
        <path d="M346 88V440" stroke="var(--ink2)" stroke-width=".8" stroke-dasharray="12 3 2 3" />
        <Dimension x0={44} x1={220} y={14} text={words(find('intake', 'runner_length'))} plan={p.next === 5} />
        <Dimension x0={276} x1={416} y={444} text={`⌀ ${words(find('engine', 'bore'))}`} plan={p.next === 1} />
        {kBalloons.map((b) => <Balloon key={b.n} {...b} plan={p.next === b.n} open={p.open} />)}
      </svg>
      <figcaption>
        <h3>One cylinder, cut</h3>
        {(['measured', 'stated', 'typical'] as const).map((s) => (
          <p key={s} class="small muted"><svg width="26" height="14" aria-hidden="true"><rect x=".5" y=".5" width="25" height="13" fill={fill(s)}
            stroke="var(--ink)" stroke-width=".8" /></svg> {s}</p>
        ))}
      </figcaption>
    </figure>
  );
}

const kWallLeft = 'M220 218h56v212h-26v-68q-30-6-30-40z';
const kWallRight = 'M472 218h-56v212h26v-68q30-6 30-40z';
const kHead = 'M220 102h72l10 10h88l10-10h72v42q-48 2-62 46l-8 12q-30-6-56-6t-56 6l-8-12q-26-44-62-58z M220 132' +
    ' m0 12q44 20 66 60l-8 14h-58z M472 176q-40 0-58 26l4 16h54z';
const kRunnerTop = 'M44 48h74q30 0 62 20l40 26v10l-46-28q-30-20-56-20H44z';
const kRunnerBottom = 'M44 84h74q24 0 50 18l52 32v10l-58-34q-24-18-44-18H44z';
const kPipeTop = 'M472 144q40 0 66 24 30 26 54 62l-6 5q-28-38-52-58-24-22-62-24z';
const kPipeBottom = 'M472 176q22 0 40 14 26 22 52 62l-6 5q-28-42-48-60-16-12-38-14z';

const kBalloons = [
  {n: 1, x: 188, y: 392, tx: 258, ty: 392},
  {n: 2, x: 514, y: 306, tx: 398, ty: 306},
  {n: 3, x: 188, y: 196, tx: 236, ty: 184},
  {n: 4, x: 490, y: 58, tx: 424, ty: 78},
  {n: 5, x: 100, y: 138, tx: 112, ty: 90},
  {n: 6, x: 580, y: 172, tx: 548, ty: 196},
  {n: 7, x: 152, y: 40, tx: 188, ty: 62},
];

function Balloon(p: {n: number; x: number; y: number; tx: number; ty: number; plan: boolean; open(n: number): void}): JSX.Element {
  const colour = p.plan ? 'var(--plan)' : 'var(--ink)';
  const d = Math.hypot(p.tx - p.x, p.ty - p.y), ux = (p.tx - p.x) / d, uy = (p.ty - p.y) / d;
  return (
    <g class="balloon" onClick={() => p.open(p.n)}>
      <line x1={p.x + ux * 11} y1={p.y + uy * 11} x2={p.tx} y2={p.ty} stroke={colour} />
      <circle cx={p.tx} cy={p.ty} r="1.8" fill={colour} />
      <circle cx={p.x} cy={p.y} r="11" fill="var(--paper)" stroke={colour} stroke-width="1.5" />
      <text x={p.x} y={p.y + 5} text-anchor="middle" fill={colour} font-weight="600">{p.n}</text>
    </g>
  );
}

function Valve(p: {x: number; angle: number; lift: number}): JSX.Element {
  return (
    <g transform={`translate(${p.x} ${212 - p.lift * 0}) rotate(${p.angle}) translate(0 ${p.lift})`}>
      <path d="M-3-116h6v88q2 14 24 24H-27q22-10 24-24z" fill="var(--paper)" />
      <path d="M-9-118h18M-10-110l20 4m-20 3 20 4m-20 3 20 4" fill="none" stroke-width="1.2" />
    </g>
  );
}

function Cams(p: {cam: Source}): JSX.Element {
  return (
    <g stroke="var(--ink)" stroke-width="1.5">
      <path d="M254 64a11 11 0 1 0-14 14l16 12q6-2 6-8z" fill={fill(p.cam)} />
      <path d="M438 64a11 11 0 1 1 14 14l-16 12q-6-2-6-8z" fill={fill(p.cam)} />
      <circle cx="246" cy="70" r="1.8" fill="var(--ink)" /><circle cx="446" cy="70" r="1.8" fill="var(--ink)" />
    </g>
  );
}

/// Rockers on pedestals; the pushrods come up from a cam in the block and are broken off here.
function Pushrods(p: {cam: Source}): JSX.Element {
  return (
    <g stroke="var(--ink)" stroke-width="1.5" stroke-linejoin="round">
      <path d="M238 84q22-18 46-8l30 22-5 8-30-14q-20-4-36 2z" fill={fill(p.cam)} />
      <path d="M454 84q-22-18-46-8l-30 22 5 8 30-14q20-4 36 2z" fill={fill(p.cam)} />
      <circle cx="276" cy="82" r="4.5" fill="var(--paper)" /><circle cx="416" cy="82" r="4.5" fill="var(--paper)" />
      <path d="M309 104V92m74 12V92" fill="none" stroke-width="4" />
      <path d="M309 106v14m74-14v14" fill="none" stroke-width="1" stroke-dasharray="3 3" />
    </g>
  );
}

function Dimension(p: {x0: number; x1: number; y: number; text: string; plan: boolean}): JSX.Element {
  const colour = p.plan ? 'var(--plan)' : 'var(--ink)';
  const middle = (p.x0 + p.x1) / 2, half = p.text.length * 3.6 + 6;
  const inside = half * 2 < p.x1 - p.x0 - 16;
  return (
    <g stroke={colour} stroke-width="1">
      <path d={`M${p.x0} ${p.y - 6}v12M${p.x1} ${p.y - 6}v12`} />
      {inside ? (
        <>
          <path d={`M${middle - half} ${p.y}H${p.x0 + 1}`} marker-end="url(#tick-end)" fill="none" />
          <path d={`M${middle + half} ${p.y}H${p.x1 - 1}`} marker-end="url(#tick-end)" fill="none" />
        </>
      ) : <path d={`M${p.x0 + 1} ${p.y}H${p.x1 - 1}`} marker-end="url(#tick-end)" marker-start="url(#tick-end)" fill="none" />}
      <text x={middle} y={inside ? p.y + 5 : p.y + 20} text-anchor="middle" stroke="none" fill={colour}
            font-size="14">{p.text}</text>
    </g>
  );
}
