// One table, curve or setting of a calibration, with the sentence on how it came about.

import type {JSX} from 'preact';
import type {Calibration, CalibrationPart, Units} from '../../lib/contract.ts';
import {digitsFor, figure} from '../../lib/number.ts';
import {axisShown, toShown} from '../../lib/units.ts';

/// "degF" is read as °F.
const unitOf = (p: CalibrationPart): string => p.unit.replace(/^deg([CF])$/, '°$1');
const words = (p: CalibrationPart): string => p.label ?? p.name.replaceAll('_', ' ');

/// What a curve runs over, where the server does not say it.
function curveAxis(part: CalibrationPart, points: readonly number[], units: Units): {unit: string; show(v: number): string} {
  const kind = part.x?.kind ?? (part.name === 'dead_time' ? 'voltage' : part.name === 'tip_in_fuel' ? 'pressure_rate' :
      part.name.startsWith('spark_trim') || points[0]! > 200 ? 'temperature' : '');
  if (kind === 'pressure_rate' || kind === 'map_rate') return {unit: 'kPa/s', show: (v) => figure(v / 1000)};
  if (kind === '') return {unit: '', show: (v) => figure(v, 1)};
  const s = axisShown(/coolant|intake|temp/.test(kind) ? 'temperature' : kind, units);
  return {unit: part.x?.unit ?? s.unit, show: (v) => figure(toShown(v, s), s.digits)};
}

export function PartOfCalibration(p: {part: CalibrationPart; c: Calibration; units: Units}): JSX.Element | null {
  const {part, c} = p;
  const value = (v: number, span: number): string => figure(v * part.factor + (part.offset ?? 0), digitsFor(span));
  if (part.shape === 'setting') {
    const v = c.calibration.settings[part.name];
    if (v === undefined) return null;
    return (
      <tr><td>{words(part)}</td>
        <td class="right" style={{whiteSpace: 'nowrap'}}><strong>{value(v, v * part.factor)}</strong> {unitOf(part)}</td>
        <td class="muted small">{part.reason}</td></tr>
    );
  }
  if (part.shape === 'curve') {
    const curve = c.calibration.curves[part.name];
    if (!curve) return null;
    const axis = curveAxis(part, curve.points, p.units);
    const span = Math.max(...curve.values.map(Math.abs)) * part.factor;
    return (
      <details>
        <summary>{words(part)}, {unitOf(part) || 'factor'}</summary>
        <p class="small muted">{part.reason}</p>
        <div class="scroll" tabIndex={0} role="region" aria-label={words(part)}>
          <table class="plain small curve"><tbody>
            <tr><th scope="row">{axis.unit || 'at'}</th>{curve.points.map((x) => <td key={x} class="right">{axis.show(x)}</td>)}</tr>
            <tr><th scope="row">{unitOf(part) || 'value'}</th>{curve.values.map((v, k) => <td key={k} class="right"><strong>{value(v, span)}</strong></td>)}</tr>
          </tbody></table>
        </div>
      </details>
    );
  }
  const table = c.calibration.tables[part.name];
  if (!table) return null;
  const nx = table.x.points.length, y = axisShown(table.y.kind, p.units);
  const span = Math.max(...table.values.map(Math.abs)) * part.factor;
  return (
    <details>
      <summary>{part.name === 've' ? 'VE' : words(part)}, {unitOf(part) || 'λ'}: {nx} by {table.y.points.length}</summary>
      <p class="small muted">{part.reason}</p>
      <div class="scroll" tabIndex={0} role="region" aria-label={words(part)}>
        <table class="differences">
          <thead><tr><th>{y.unit}</th>{table.x.points.map((x) => <th key={x} scope="col">{figure(x)}</th>)}<th>rpm</th></tr></thead>
          <tbody>{table.y.points.map((_, j) => j).reverse().map((j) => (
            <tr key={j}><th scope="row">{figure(toShown(table.y.points[j]!, y), y.digits)}</th>
              {table.x.points.map((_, i) => <td key={i}>{value(table.values[j * nx + i]!, span)}</td>)}</tr>
          ))}</tbody>
        </table>
      </div>
    </details>
  );
}
