// One table, curve or setting of a calibration, with the sentence on how it came about.

import type {JSX} from 'preact';
import type {AxisUnit, Calibration, CalibrationPart} from '../../lib/contract.ts';
import {digitsFor, figure} from '../../lib/number.ts';

/// "degF" is read as °F.
const degrees = (unit: string): string => unit.replace(/^deg([CF])$/, '°$1');
const unitOf = (p: CalibrationPart): string => degrees(p.unit);
const words = (p: CalibrationPart): string => p.label ?? p.name.replaceAll('_', ' ');

const places = (a: AxisUnit | undefined, points: readonly number[]): {unit: string; label: string; show(si: number): string} => {
  const {factor, offset, unit} = a ?? {factor: 1, offset: 0, unit: ''};
  const shown = points.map((v) => v * factor + offset), apart = shown.slice(1).map((v, k) => v - shown[k]!);
  const digits = apart.length > 0 && Math.min(...apart) < 1 ? 1 : 0;
  return {unit: degrees(unit), label: a?.label ?? 'at', show: (si) => figure(si * factor + offset, digits)};
};

export function PartOfCalibration(p: {part: CalibrationPart; c: Calibration}): JSX.Element | null {
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
    const axis = places(part.x, curve.points);
    const span = Math.max(...curve.values.map(Math.abs)) * part.factor;
    return (
      <details>
        <summary>{words(part)}, {unitOf(part) || 'factor'}</summary>
        <p class="small muted">{part.reason}</p>
        <div class="scroll" tabIndex={0} role="region" aria-label={words(part)}>
          <table class="plain small curve"><tbody>
            <tr><th scope="row">{axis.label}{axis.unit ? `, ${axis.unit}` : ''}</th>{curve.points.map((x) => <td key={x} class="right">{axis.show(x)}</td>)}</tr>
            <tr><th scope="row">{unitOf(part) || 'value'}</th>{curve.values.map((v, k) => <td key={k} class="right"><strong>{value(v, span)}</strong></td>)}</tr>
          </tbody></table>
        </div>
      </details>
    );
  }
  const table = c.calibration.tables[part.name];
  if (!table) return null;
  const nx = table.x.points.length, x = places(part.x, table.x.points), y = places(part.y, table.y.points);
  const span = Math.max(...table.values.map(Math.abs)) * part.factor;
  return (
    <details>
      <summary>{part.name === 've' ? 'VE' : words(part)}, {unitOf(part) || 'λ'}: {nx} by {table.y.points.length}</summary>
      <p class="small muted">{part.reason}</p>
      <div class="scroll" tabIndex={0} role="region" aria-label={words(part)}>
        <table class="differences">
          <thead><tr><th>{y.unit}</th>{table.x.points.map((v) => <th key={v} scope="col">{x.show(v)}</th>)}<th>{x.unit}</th></tr></thead>
          <tbody>{table.y.points.map((_, j) => j).reverse().map((j) => (
            <tr key={j}><th scope="row">{y.show(table.y.points[j]!)}</th>
              {table.x.points.map((_, i) => <td key={i}>{value(table.values[j * nx + i]!, span)}</td>)}</tr>
          ))}</tbody>
        </table>
      </div>
    </details>
  );
}
