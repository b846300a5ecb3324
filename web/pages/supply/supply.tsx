// Supply: can injectors, pump, lines and wiring feed this engine, and where does it run out?

import './supply.css';
import type {JSX} from 'preact';
import {useState} from 'preact/hooks';
import {work} from '../../lib/api.ts';
import type {Interval, Line, Units} from '../../lib/contract.ts';
import {figure, signed} from '../../lib/number.ts';
import {atHead, AtWork, Caution, Sentence, TitleBlock, useAsked, Wrong} from '../../view/pieces.tsx';
import {BandPlot} from '../../view/band_plot.tsx';
import {shownAs} from '../../lib/units.ts';
import {hashOf, job as jobNow, sheetNumber} from '../../lib/store.ts';

interface Row {
  speed_rpm: number;
  demand_kg_s: Interval;
  pump_kg_s: Interval;
  injectors_kg_s: Interval;
  margin: Interval;
  short_share: number;
  rail_pa: number;
  rail_set_pa: number;
  pump_volts: number;
  duty: number;
}

export interface Size {
  sentence: string;
  also: string[];
  not_known: string;
  units: Units;
  members: number;
  systems: number;
  fuel: string;
  margin_wanted: number;
  pump_known: boolean;
  runs_out_rpm: Interval;
  sides: Record<string, {margin: number; margin_speed_rpm: number; short_chance: number; runs_out_rpm: number | null; spread: Interval}>;
  curve: Row[];
  idle: {pulse_effective_s: Interval; duty: Interval; too_large_share: number} | null;
  plan: {words: string; part: string}[];
  plan_enough: boolean;
  cures: {words: string; part: string}[];
  measure_first: {words: string; half_width_95_before: number; half_width_95_after: number; takes_s: number; needs_pull: boolean}[];
  typical: Line[];
  limits: {words: string[]; warnings: string[]};
  cautions: string[];
}

/// An engine speed that is computed is known to no better than tens.
const rounded = (rpm: number): string => figure(Math.round(rpm / 10) * 10);

const kSides: Record<string, string> = {injectors: 'Injectors', pump: 'Pump and lines', lift: 'Lift pump'};

export function Supply(p: {job: string}): JSX.Element {
  const [boost, setBoost] = useState('');
  const [asked, setAsked] = useState('');
  const size = useAsked(atHead(`${p.job}/size/${asked}`), () => work<Size>(p.job, 'size', asked === '' ? {} : {boost: asked}));
  const s = size.value;
  return (
    <main tabIndex={-1} class="supply-page">
      <Sentence under={s?.not_known}>{s?.sentence ?? jobNow.value?.sentence ?? null}</Sentence>
      <Wrong error={size.error} again={size.again} />
      {size.busy && !s ? <AtWork job={p.job} what="size" says="Weighing fuel systems that could be this one" /> : null}
      {s ? (
        <div class="two">
          <div>
            <Picture s={s} />
            <Sides s={s} />
            <Rows s={s} />
            <div class="pair" style={{marginTop: '20px'}}>
            {s.measure_first.length > 0 ? (
              <section aria-labelledby="measure-first"><h2 id="measure-first">What to measure first</h2>
                <ul class="rows" style={{marginTop: '6px'}}>{s.measure_first.slice(0, 4).map((m, k) => (
                  <li key={k} class={k === 0 ? 'plan' : ''}>{m.words}</li>))}</ul>
              </section>
            ) : null}
            <section aria-labelledby="limits"><h2 id="limits">Other limits</h2>
              {s.limits.warnings.map((w) => <p key={w} class="note small">{w}</p>)}
              <ul class="small muted limit-words">{s.limits.words.map((w) => <li key={w}>{w}</li>)}</ul></section>
            </div>
          </div>
          <div class="side-words">
            <Caution title="Fuel under pressure">
              <ul class="small">{s.cautions.map((c) => <li key={c}>{c}</li>)}
                <li>Local codes for fuel systems and workshops, and licensed practice where it is required, apply.</li></ul>
            </Caution>
            {s.plan.length > 0 ? (
              <section aria-labelledby="cures"><h2 id="cures">What would cure it</h2>
                <ul class="rows" style={{marginTop: '6px'}}>{s.plan.map((c, k) => <li key={k}>{c.words}</li>)}</ul>
                {s.plan_enough ? null : <p class="small muted">Even all of it is not enough for certain.</p>}
              </section>
            ) : null}
            <form class="block" onSubmit={(e) => { e.preventDefault(); setAsked(boost.trim()); }}>
              <label><span class="label">With a blower of</span>
                <input value={boost} placeholder={s.units === 'us' ? '5 psi' : '35 kPa'} onInput={(e) => setBoost(e.currentTarget.value)} /></label>
              <div class="words" style={{marginTop: '6px'}}><button type="submit">Look at that</button>
                {asked ? <button type="button" class="quiet" onClick={() => { setAsked(''); setBoost(''); }}>Without it again</button> : null}</div>
            </form>
            <TitleBlock cells={[['Engines', figure(s.members)], ['Fuel systems', figure(s.systems)], ['Sheet', sheetNumber('supply')]]} />
          </div>
        </div>
      ) : null}
      {s && s.typical.length > 0 ? (
        <details class="typical"><summary>{s.typical.length} values of the supply are typical, nobody stated them</summary>
          <table class="plain small"><tbody>{s.typical.map((l) => (
            <tr key={l.key}><td><a href={hashOf(p.job, 'parts')}>{l.about}</a></td><td class="right guess">{l.value}{l.tolerance ? ` ± ${l.tolerance}` : ''}</td>
              <td class="muted">{l.reason}</td></tr>))}</tbody></table></details>
      ) : null}
    </main>
  );
}

function Picture(p: {s: Size}): JSX.Element {
  const {s} = p, shown = shownAs('mass_flow', s.units);
  const out = Number.isFinite(s.runs_out_rpm?.middle) && s.runs_out_rpm.middle > 0 &&
      s.runs_out_rpm.middle <= s.curve.at(-1)!.speed_rpm ? s.runs_out_rpm.middle : null;
  const lines = [
    {name: 'needed', values: s.curve.map((r) => r.demand_kg_s)},
    {name: 'injectors give', values: s.curve.map((r) => r.injectors_kg_s), dashed: true},
    ...(s.pump_known ? [{name: 'pump gives', values: s.curve.map((r) => r.pump_kg_s), dashed: true}] : []),
  ];
  return <BandPlot title="Fuel needed and fuel there" x={s.curve.map((r) => r.speed_rpm)} lines={lines} shown={shown} height={330} fromZero
                   at={out !== null ? [{x: out, text: `runs out at ${rounded(out)} rpm`}] : []}
                   label={`Fuel needed at full throttle and what injectors and pump give, ${shown.unit}, over engine speed`} />;
}

function Sides(p: {s: Size}): JSX.Element {
  return (
    <table class="plain" style={{marginTop: '12px'}}>
      <thead><tr><th>Side</th><th class="right">Spare at its tightest</th><th class="right">95 %</th><th class="right">at rpm</th><th class="right">Runs out</th>
        <th class="right">Chance that it is short</th></tr></thead>
      <tbody>{Object.entries(p.s.sides).map(([name, side]) => (
        <tr key={name}><td>{kSides[name] ?? name}</td><td class="right"><strong>{signed(side.margin * 100, 0)} %</strong></td>
          <td class="right muted">{signed(side.spread.low * 100, 0)} to {signed(side.spread.high * 100, 0)} %</td>
          <td class="right">{rounded(side.margin_speed_rpm)}</td><td class="right">{side.runs_out_rpm === null ? 'not before the limit' : `${rounded(side.runs_out_rpm)} rpm`}</td>
          <td class="right">{figure(side.short_chance * 100)} %</td></tr>
      ))}</tbody>
    </table>
  );
}

function Rows(p: {s: Size}): JSX.Element {
  const {s} = p, flow = shownAs('mass_flow', s.units), pressure = shownAs('pressure', s.units);
  return (
    <>
      {s.also.map((a) => <p key={a} class="also">{a}</p>)}
      <details>
        <summary>The same as figures</summary>
        <div class="scroll" tabIndex={0} role="region" aria-label="Supply over engine speed">
          <table class="plain small">
            <thead><tr><th class="right">rpm</th><th class="right">Needed, {flow.unit}</th><th class="right">Injectors, {flow.unit}</th><th class="right">Pump, {flow.unit}</th>
              <th class="right">Spare, %</th><th class="right">Rail, {pressure.unit}</th><th class="right">Pump, V</th><th class="right">Duty, %</th></tr></thead>
            <tbody>{s.curve.map((r) => (
              <tr key={r.speed_rpm}><td class="right">{figure(r.speed_rpm)}</td><td class="right"><strong>{figure(r.demand_kg_s.middle * flow.factor, flow.digits)}</strong></td>
                <td class="right">{figure(r.injectors_kg_s.middle * flow.factor, flow.digits)}</td><td class="right">{figure(r.pump_kg_s.middle * flow.factor, flow.digits)}</td>
                <td class="right">{signed(r.margin.middle * 100, 0)}</td><td class="right">{figure(r.rail_pa * pressure.factor, pressure.digits)}</td>
                <td class="right">{figure(r.pump_volts, 1)}</td><td class="right">{figure(r.duty * 100)}</td></tr>
            ))}</tbody>
          </table>
        </div>
      </details>
    </>
  );
}
