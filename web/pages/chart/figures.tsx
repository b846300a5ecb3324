// The chart as figures, for paper: what is in force (or estimated), how well it is known, and what driving says of it.

import type {JSX} from 'preact';
import {shownOn} from '../../chart/frame.ts';
import type {Scene} from '../../chart/scene.ts';
import type {Chart} from '../../lib/contract.ts';
import {figure, signed} from '../../lib/number.ts';

export function ChartFigures(p: {chart: Chart; scene: Scene; name: string}): JSX.Element {
  const {chart: c, name} = p, digits = c.table === 'lambda_target' ? 3 : 1;
  const value = (v: number): string => figure(v * c.factor, digits);
  return (
    <div class="print-only figures-of-chart">
      {c.in_force ? <Figures {...p} title={`${name}, ${c.unit}: revision ${c.revision}, in force`} of={c.in_force} show={value} /> : null}
      {c.estimate ? <Figures {...p} title={`${name}, ${c.unit}: estimate`} of={c.estimate} show={value} /> : null}
      {c.half_width_95 ? <Figures {...p} title="Estimate known to ±, % of its value (95 %)" of={c.half_width_95} show={(v) => figure(v * 100, 1)} /> : null}
      {c.correction ? <Figures {...p} title={`Estimate against revision ${c.revision}, %`} of={c.correction} show={(v) => signed(v * 100, 1)} /> : null}
      {c.proposed ? <Figures {...p} title={`${name}, ${c.unit}: proposed`} of={c.proposed} show={value} /> : null}
    </div>
  );
}

function Figures(p: {chart: Chart; scene: Scene; title: string; of: readonly number[]; show(v: number): string}): JSX.Element {
  const {scene} = p, nx = scene.x.length;
  return (
    <table class="differences figures">
      <caption><strong>{p.title}</strong></caption>
      <thead><tr><th>{scene.yScale.unit}</th>{scene.x.map((x) => <th key={x} scope="col">{figure(x)}</th>)}<th>{scene.xScale.unit}</th></tr></thead>
      <tbody>{scene.y.map((_, j) => j).reverse().map((j) => (
        <tr key={j}><th scope="row">{figure(shownOn(scene.yScale, scene.y[j]!), scene.yScale.digits)}</th>
          {scene.x.map((_, i) => {
            const mark = p.chart.mark?.[j * nx + i];
            return <td key={i} class={mark === 'prior only' ? 'guess' : mark === 'measured' ? 'figure' : ''}>{p.show(p.of[j * nx + i]!)}</td>;
          })}</tr>
      ))}</tbody>
    </table>
  );
}
