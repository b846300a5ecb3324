// Beside the table: what is selected, what can be done with it, what was amended, and keeping it with a reason.

import type {JSX} from 'preact';
import {useEffect, useState} from 'preact/hooks';
import {inJob, reachable, Refusal, send} from '../../lib/api.ts';
import type {Amend, Chart} from '../../lib/contract.ts';
import {shownOn} from '../../chart/frame.ts';
import type {Scene} from '../../chart/scene.ts';
import {figure, howLong, parseFigure} from '../../lib/number.ts';
import {changed} from '../../lib/store.ts';
import {Wrong} from '../../view/pieces.tsx';
import {sizeOf, sorted, type Edits, type Range} from './edits.ts';

interface Props {
  job: string;
  chart: Chart;
  scene: Scene;
  edits: Edits;
  version: number;
  range: Range;
  digits: number;
  changed(): void;
  kept(says: string): void;
  openPaste(): void;
}

export function AmendSide(p: Props): JSX.Element {
  return (
    <>
      <Selected {...p} />
      <Tools {...p} />
      <Amended {...p} />
    </>
  );
}

function place(p: Props, k: number): string {
  const nx = p.edits.nx, {xScale, yScale} = p.scene;
  return `${figure(p.scene.x[k % nx]!)} ${xScale.unit}, ` +
      `${figure(shownOn(yScale, p.scene.y[Math.floor(k / nx)]!), yScale.digits)} ${yScale.unit}`;
}

function Selected(p: Props): JSX.Element {
  const r = sorted(p.range), n = sizeOf(r), c = p.chart;
  const active = p.range.j1 * p.edits.nx + p.range.i1;
  const value = (v: number): string => figure(v * c.factor, p.digits);
  const half = c.half_width_95?.[active], estimate = c.estimate?.[active];
  return (
    <section aria-label="Selection">
      <h2>{place(p, active)}</h2>
      <p class="muted small">{n === 1 ? 'one node' : `the last of ${n} nodes`}{c.seconds ? `, ${howLong(c.seconds[active]!)} of driving` : ''}</p>
      <dl class="facts">
        <div><dt>now</dt><dd>{value(p.edits.values[active]!)} {c.unit}</dd></div>
        {estimate !== undefined ? <div><dt>estimate</dt><dd>{value(estimate)} {c.unit}</dd></div> : null}
        {half !== undefined ? <div><dt>known to, of its value</dt><dd>± {figure(half * 100, 1)} %</dd></div> : null}
        {c.in_force ? <div><dt>in force, revision {c.revision}</dt><dd>{value(c.in_force[active]!)}</dd></div> : null}
        {c.proposed ? <div><dt>proposed</dt><dd>{value(c.proposed[active]!)}</dd></div> : null}
      </dl>
    </section>
  );
}

function Tools(p: Props): JSX.Element {
  const [asking, setAsking] = useState<'set' | 'add' | 'multiply' | null>(null);
  const [text, setText] = useState('');
  const {chart, edits, range} = p;
  const run = (f: () => void): void => {
    f();
    p.changed();
  };
  const apply = (): void => {
    const v = parseFigure(text);
    if (v === null || asking === null) return;
    run(() => edits.each(range, (old) =>
        asking === 'set' ? v / chart.factor : asking === 'add' ? old + v / chart.factor : old * v));
    setAsking(null);
    setText('');
  };
  const word = (name: string, f: () => void, off = false): JSX.Element =>
      <li key={name}><button class="tool" disabled={off} onClick={f}>{name}</button></li>;
  const ask = (kind: 'set' | 'add' | 'multiply', name: string, unit: string): JSX.Element => (
    <li key={kind}>
      {asking === kind ? (
        <form class="tool-entry" onSubmit={(e) => { e.preventDefault(); apply(); }}>
          <label>{name} <input autofocus inputMode="decimal" aria-label={`${name}${unit ? `, ${unit}` : ''}`} value={text}
                               onInput={(e) => setText(e.currentTarget.value)}
                               onKeyDown={(e) => { if (e.key === 'Escape') setAsking(null); }} /> {unit}</label>
          <button type="submit">Do it</button>
        </form>
      ) : <button class="tool" onClick={() => { setAsking(kind); setText(''); }}>{name}</button>}
    </li>
  );
  const block = sizeOf(range) > 1;
  return (
    <section aria-label="Tools">
      <ul class="tools">
        {ask('set', 'Set to a value', chart.unit)}
        {ask('add', 'Add', chart.unit)}
        {ask('multiply', 'Multiply by', '')}
        {word('Fill between edges', () => run(() => edits.fill(range)), !block)}
        {word('Soften, weighted by evidence', () => run(() => edits.soften(range, chart.sd_log)))}
        {word('Back to the estimate', () => run(() => edits.each(range, (old, k) => chart.estimate?.[k] ?? old)), !chart.estimate)}
        {chart.proposed ? word('As proposed', () => run(() => edits.each(range, (_, k) => chart.proposed![k]!))) : null}
        {word('Back to what is in force', () => run(() => edits.each(range, (_, k) => edits.base[k]!)))}
        {word('Paste a table', p.openPaste)}
      </ul>
      <div class="words">
        <button disabled={!edits.canUndo} onClick={() => run(() => edits.undo())}>Undo</button>
        <button disabled={!edits.canRedo} onClick={() => run(() => edits.redo())}>Redo</button>
      </div>
    </section>
  );
}

function Amended(p: Props): JSX.Element | null {
  const [answer, setAnswer] = useState<Amend | null>(null);
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [why, setWhy] = useState('');
  const [busy, setBusy] = useState(false);
  const nodes = p.edits.changed(), nx = p.edits.nx;
  const body = {table: p.chart.table, seen: p.chart.revision,
                nodes: nodes.map((k) => [k % nx, Math.floor(k / nx), p.edits.values[k]!])};
  useEffect(() => {
    setAnswer(null);
    setWrong(null);
    if (nodes.length === 0) return;
    let stale = false;
    const later = setTimeout(() => {
      send<Amend>('POST', inJob(p.job, '/amend'), {...body, dry_run: true})
          .then((a) => !stale && setAnswer(a), (e: unknown) => !stale && e instanceof Refusal && setWrong(e));
    }, 350);
    return () => {
      stale = true;
      clearTimeout(later);
    };
  }, [p.version, p.chart.revision, reachable.value]);
  if (nodes.length === 0) return null;
  const keep = async (): Promise<void> => {
    setBusy(true);
    try {
      const a = await send<Amend>('POST', inJob(p.job, '/amend'), {...body, why});
      p.kept(a.sentence);
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
    setBusy(false);
    changed();
  };
  const value = (v: number): string => figure(v * p.chart.factor, p.digits);
  return (
    <section class="block strong" aria-labelledby="amended">
      <h2 id="amended">Amended by hand, {nodes.length}</h2>
      <dl class="facts">
        {nodes.slice(0, 4).map((k) => (
          <div key={k}><dt>{place(p, k)}</dt><dd>{value(p.edits.base[k]!)} to {value(p.edits.values[k]!)}</dd></div>
        ))}
      </dl>
      {nodes.length > 4 ? <p class="small muted">and {nodes.length - 4} more, underlined in the table</p> : null}
      <div aria-live="polite">
        {answer ? <p class="small">{answer.sentence}</p> : null}
        {answer?.mind.slice(0, 3).map((m) => <p key={m.says} class="note" style={{marginTop: '6px'}}>{m.says}</p>)}
        {answer && answer.mind.length > 3 ? (
          <details><summary>More nodes stand against the evidence</summary>
            {answer.mind.slice(3).map((m) => <p key={m.says} class="small">{m.says}</p>)}
            {answer.mind_more > 0 ? <p class="small muted">and {answer.mind_more} more</p> : null}</details>
        ) : null}
      </div>
      <Wrong error={wrong} />
      <input aria-label="Reason, kept in the journal" placeholder="Reason, kept in the journal" value={why}
             onInput={(e) => setWhy(e.currentTarget.value)} />
      <p style={{marginTop: '12px'}}>
        <button class="filled" disabled={why.trim() === '' || busy} onClick={() => void keep()}>Keep amendments</button>
      </p>
    </section>
  );
}
