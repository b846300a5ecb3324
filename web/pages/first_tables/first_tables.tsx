// First tables: what will this engine do, from its parts, and what does it start with? Every value with how it came about.

import './first_tables.css';
import '../chart/chart.css';
import type {JSX} from 'preact';
import {useMemo, useRef, useState} from 'preact/hooks';
import {sceneOf} from '../../chart/from_reply.ts';
import {get, inJob, Refusal, work} from '../../lib/api.ts';
import type {Calibration, CalibrationPart, Chart, Predict} from '../../lib/contract.ts';
import {figure} from '../../lib/number.ts';
import {asVacuum, hashOf, changed, job as jobNow, sheetNumber} from '../../lib/store.ts';
import {shownAs} from '../../lib/units.ts';
import {BandPlot} from '../../view/band_plot.tsx';
import {AtWork, atHead, Caution, Sentence, TitleBlock, useAsked, Wrong} from '../../view/pieces.tsx';
import {Legend} from '../chart/legend.tsx';
import {Terrain} from '../chart/terrain.tsx';
import {PartOfCalibration} from './part.tsx';

/// No more are drawn: 512 (docs/http.md).
const kMostEngines = 512;

export function FirstTables(p: {job: string}): JSX.Element {
  // As many engines as the program draws or the job keeps, until a person asks for more. Nothing is written by looking.
  const [members, setMembers] = useState<number | null>(null);
  const drawn = members === null ? {} : {members};
  const predict = useAsked(jobNow.value ? `${p.job}/predict/${members ?? ''}/${sheetKey()}` : null,
      () => work<Predict>(p.job, 'predict', {...drawn, keep: 'never'}));
  const [keeping, setKeeping] = useState(false);
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [said, setSaid] = useState('');
  const r = predict.value;
  const hasTables = (jobNow.value?.in_force ?? null) !== null;
  const keep = async (): Promise<void> => {
    setKeeping(true);
    setWrong(null);
    try {
      const done = await work<Predict>(p.job, 'predict', {...drawn, keep: hasTables ? 'always' : 'if_first'});
      setSaid(done.revision !== null ? `Revision ${done.revision} is this calibration.` : done.not_kept);
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
    setKeeping(false);
    changed();
  };
  return (
    <main tabIndex={-1} class="first-page">
      <Sentence under={r?.not_known}>{r?.sentence ?? jobNow.value?.sentence ?? null}</Sentence>
      <Wrong error={predict.error} again={predict.again} />
      {predict.busy && !r ? <AtWork job={p.job} what="predict" says="Computing the engines that could be this one" /> : null}
      {r ? (
        <div class="two">
          <div>
            <Terrains job={p.job} predict={r} />
            <FullThrottle predict={r} />
          </div>
          <div class="side-words">
            <section>
              <h2>{hasTables ? 'The tables stand' : 'The first tables'}</h2>
              <p>{hasTables ? `Revision ${jobNow.value?.revisions.find((x) => x.in_force)?.number ?? 0} is in force.`
                            : 'Air, fuel, spark, cranking, warm-up and limits, complete, from the parts.'}</p>
              <Wrong error={wrong} />
              {said ? <p class="note" role="status">{said}</p> : null}
              {keeping ? <AtWork job={p.job} what="predict" says="Making the calibration" /> : (
                <p style={{marginTop: '8px'}}>
                  <button class={hasTables ? '' : 'filled'} onClick={() => void keep()}>
                    {hasTables ? 'Begin again from the parts, as a new revision' : 'Make them revision 1'}</button></p>
              )}
              {hasTables ? <p style={{marginTop: '8px'}}><a href={hashOf(p.job, 'chart')}>To the chart</a></p> : null}
            </section>
            <Caution title="Before the first start">
              <ul class="small">{r.cautions.map((c) => <li key={c}>{c}</li>)}
                <li>A first table is a start, not a result: watch the mixture sensor, stay out of full throttle until light load is proven.</li></ul>
            </Caution>
            <p class="small muted">Computed from {r.members} engines that could be this one.{' '}
              {r.members < kMostEngines && !predict.busy ? <button class="small" onClick={() => setMembers(Math.min(kMostEngines, r.members * 2))}>
                Draw twice as many</button> : null}</p>
            {predict.busy ? <AtWork job={p.job} what="predict" says="Computing more engines that could be this one" /> : null}
            <TitleBlock cells={[['Engines', String(r.members)], ['In force', `Revision ${jobNow.value?.revisions.find((x) => x.in_force)?.number ?? 0}`],
                                ['Sheet', sheetNumber('first-tables')]]} />
          </div>
        </div>
      ) : null}
      {hasTables ? <WholeCalibration job={p.job} /> : null}
    </main>
  );
}

/// What a prediction depends on: the sheet, not the recordings.
const sheetKey = (): string => jobNow.value!.sheet.map((l) => `${l.value} ${l.tolerance}`).join('/') + jobNow.value!.units;

/// How often something became another thing.
function useTimes(thing: unknown): number {
  const seen = useRef({thing, times: 0});
  if (seen.current.thing !== thing) seen.current = {thing, times: seen.current.times + 1};
  return seen.current.times;
}

function Terrains(p: {job: string; predict: Predict}): JSX.Element | null {
  const [table, setTable] = useState('ve');
  const [node, setNode] = useState<number | null>(null);
  const chart = useAsked(`${atHead(`${p.job}/parts/${table}`)}/${useTimes(p.predict)}`,
      (s) => get<Chart>(inJob(p.job, `/chart?table=${table}&basis=parts`), s));
  const c = chart.value;
  const scene = useMemo(() => (c && (c.estimate ?? c.in_force) ? sceneOf(c, {track: null, plan: null, section: null, cursor: null,
      vacuum: asVacuum.value, showing: 'evidence'}) : null), [c, asVacuum.value]);
  if (chart.error && !c) return chart.error.status === 404 ? null : <Wrong error={chart.error} again={chart.again} />;
  if (!c || !scene) return null;
  const names: Record<string, string> = {ve: 'VE', spark: 'Spark', lambda_target: 'Mixture target', correction: 'Correction'};
  return (
    <>
      <div class="tabs no-print" role="group" aria-label="Table">
        {c.tables.map((t) => <button key={t} aria-pressed={t === table} onClick={() => setTable(t)}>{names[t] ?? t}</button>)}
      </div>
      <Terrain scene={scene} chart={c} height={340} node={node} setNode={setNode} label={`${names[table] ?? table} over engine speed and load`} />
      <Legend scene={scene} name={`${names[table] ?? table}${c.unit ? `, ${c.unit}` : ''}`} />
    </>
  );
}

function FullThrottle(p: {predict: Predict}): JSX.Element {
  const f = p.predict.full_throttle, units = jobNow.value?.units ?? 'metric';
  const cells: [string, keyof typeof f & ('torque_nm' | 'power_w' | 'fuel_kg_s'), ReturnType<typeof shownAs>][] = [
    ['Torque', 'torque_nm', shownAs('torque', units)], ['Power', 'power_w', shownAs('power', units)], ['Fuel', 'fuel_kg_s', shownAs('mass_flow', units)],
  ];
  return (
    <section aria-labelledby="full-throttle" style={{marginTop: '20px'}}>
      <h2 id="full-throttle">At full throttle</h2>
      <div class="three">
        {cells.map(([name, key, shown]) => (
          <BandPlot key={key} title={name} x={f.speed_rpm} lines={[{name, values: f[key]}]} shown={shown} height={170} fromZero
                    label={`${name} at full throttle over engine speed with its 95 % band`} />
        ))}
      </div>
      <details>
        <summary>The same as figures</summary>
        <div class="scroll" tabIndex={0} role="region" aria-label="Full throttle as figures">
          <table class="plain small">
            <thead><tr><th class="right">rpm</th>{cells.map(([n, , s]) => <th key={n} class="right">{n}, {s.unit} (95 %)</th>)}<th class="right">Spark, °</th>
              <th class="right">Knock limits, %</th></tr></thead>
            <tbody>{f.speed_rpm.map((rpm, k) => (
              <tr key={k}><td class="right">{figure(rpm)}</td>
                {cells.map(([n, key, s]) => { const v = f[key][k]!; return (
                  <td key={n} class="right"><strong>{figure(v.middle * s.factor)}</strong> <span class="muted">{figure(v.low * s.factor)} to {figure(v.high * s.factor)}</span></td>); })}
                <td class="right">{figure(f.spark_deg[k]!.middle)}</td><td class="right">{figure(f.knock_limited_share[k]! * 100)}</td></tr>
            ))}</tbody>
          </table>
        </div>
      </details>
    </section>
  );
}

function WholeCalibration(p: {job: string}): JSX.Element | null {
  const asked = useAsked(atHead(`${p.job}/calibration`), (s) => get<Calibration>(inJob(p.job, '/calibration'), s));
  const c = asked.value;
  if (!c) return <Wrong error={asked.error} again={asked.again} />;
  const of = (shape: CalibrationPart['shape']): CalibrationPart[] => c.parts.filter((x) => x.shape === shape);
  return (
    <section aria-labelledby="calibration" class="calibration">
      <h2 id="calibration">The calibration in force, revision {c.revision}: every part and how it came about</h2>
      <p class="muted small">{c.reason}</p>
      <div class="calibration-parts">
        {[...of('setting')].length > 0 ? (
          <table class="plain">
            <thead><tr><th>Setting</th><th class="right">Value</th><th>How it came about</th></tr></thead>
            <tbody>{of('setting').map((x) => <PartOfCalibration key={x.name} part={x} c={c} />)}</tbody>
          </table>
        ) : null}
        {of('curve').map((x) => <PartOfCalibration key={x.name} part={x} c={c} />)}
        {of('table').map((x) => <PartOfCalibration key={x.name} part={x} c={c} />)}
      </div>
    </section>
  );
}
