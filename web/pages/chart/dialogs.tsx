// Compare two revisions, take a table out, bring one in.

import type {JSX} from 'preact';
import {useState} from 'preact/hooks';
import {get, getText, inJob, Refusal, send} from '../../lib/api.ts';
import type {Compare, Revision, TableDifference, Units} from '../../lib/contract.ts';
import {figure, signed} from '../../lib/number.ts';
import {job} from '../../lib/store.ts';
import {axisShown, toShown} from '../../lib/units.ts';
import {Dialog, save, useAsked, Wrong, atHead} from '../../view/pieces.tsx';

export function CompareDialog(p: {job: string; revisions: readonly Revision[]; close(): void}): JSX.Element {
  const last = p.revisions.at(-1)?.number ?? 0;
  const [from, setFrom] = useState(Math.max(0, last - 1));
  const [to, setTo] = useState(last);
  const asked = useAsked(atHead(`${p.job}/${from}/${to}`),
      (s) => get<Compare>(inJob(p.job, `/compare?from=${from}&to=${to}`), s));
  const pick = (label: string, value: number, set: (v: number) => void): JSX.Element => (
    <label><span class="label">{label}</span>
      <select value={value} onChange={(e) => set(Number(e.currentTarget.value))}>
        {p.revisions.map((r) => <option key={r.number} value={r.number}>{`${r.number}: ${r.reason.slice(0, 60)}`}</option>)}
      </select>
    </label>
  );
  return (
    <Dialog title="Compare two revisions" close={p.close} wide>
      <div class="pair">{pick('From', from, setFrom)}{pick('To', to, setTo)}</div>
      <Wrong error={asked.error} again={asked.again} />
      {asked.value ? (
        <div style={{maxHeight: '52vh', overflow: 'auto', marginTop: '12px'}} tabIndex={0} role="region" aria-label="Differences">
          <p aria-live="polite"><strong>{asked.value.sentence}</strong></p>
          {asked.value.tables.map((t) => <Difference key={t.table} d={t} units={job.value?.units ?? 'metric'} />)}
          {asked.value.settings.length + asked.value.curves.length > 0 ? (
            <table class="plain"><tbody>
              {asked.value.curves.map((c) => <tr key={c.curve}><td>{c.curve.replaceAll('_', ' ')}</td>
                <td class="right">{c.changed} points</td></tr>)}
              {asked.value.settings.map((x) => <tr key={x.setting}><td>{x.setting.replaceAll('_', ' ')}</td>
                <td class="right">{x.before === null ? 'none' : figure(x.before, 3)} to {x.after === null ? 'none' : figure(x.after, 3)} {x.unit}</td></tr>)}
            </tbody></table>
          ) : null}
        </div>
      ) : null}
      <div class="words"><button onClick={p.close}>Close</button></div>
    </Dialog>
  );
}

/// Node by node in %, high load on top; nothing where nothing changed.
export function Difference(p: {d: TableDifference; units: Units}): JSX.Element | null {
  const {change, x} = p.d, y = axisShown(p.d.y.kind, p.units);
  if (!change) return <p class="muted">{p.d.table}: {p.d.changed} of {p.d.nodes} nodes</p>;
  const nx = x.points_si.length, factor = p.d.by_share ? 100 : 1;
  const rows = p.d.y.points_si.map((_, j) => j).reverse();
  return (
    <table class="differences">
      <caption class="label">{p.d.table === 've' ? 'VE' : p.d.table.replaceAll('_', ' ')}, change {p.d.by_share ? 'in %' : 'in degrees'}:
        {' '}{p.d.changed} of {p.d.nodes} nodes</caption>
      <thead><tr><th>{y.unit}</th>{x.points_si.map((v) => <th key={v} scope="col">{figure(v)}</th>)}</tr></thead>
      <tbody>
        {rows.map((j) => (
          <tr key={j}><th scope="row">{figure(toShown(p.d.y.points_si[j]!, y), y.digits)}</th>
            {x.points_si.map((_, i) => {
              const c = change[j * nx + i] ?? null, v = c === null ? null : c * factor;
              return <td key={i}>{v === null ? '–' : Math.abs(v) < 0.05 ? <span class="label">·</span> : signed(v, 1)}</td>;
            })}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

export function ExportDialog(p: {job: string; table: string; revision: number; close(): void}): JSX.Element {
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [said, setSaid] = useState('');
  const path = (form: string): string => inJob(p.job, `/export?form=${form}&table=${p.table}&revision=${p.revision}`);
  const clipboard = async (): Promise<void> => {
    setWrong(null);
    try {
      const text = await getText(path('tsv'));
      try {
        await navigator.clipboard.writeText(text);
        setSaid('The table is on the clipboard, with its axes, ready to paste into a spreadsheet.');
      } catch {
        save(`${p.job}-${p.table}.tsv`, text);
        setSaid('The browser keeps its clipboard to itself; the table was saved as a file instead.');
      }
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
  };
  return (
    <Dialog title={`Take revision ${p.revision} out`} close={p.close}>
      <p class="muted">The file is carried to the engine computer by you; nothing is written to the car from here. Read it back
        there before the engine is started.</p>
      <Wrong error={wrong} />
      <p role="status">{said}</p>
      <div class="words">
        <button class="filled" onClick={() => void clipboard()}>Copy the table</button>
        <a class="button" href={`/api/v1${path('tsv')}`} download>TSV</a>
        <a class="button" href={`/api/v1${path('csv')}`} download>CSV</a>
        <a class="button" href={`/api/v1${inJob(p.job, `/export?form=json&revision=${p.revision}`)}`} download>JSON, everything</a>
        <a class="button" href={`/api/v1${inJob(p.job, `/export?form=cdf&revision=${p.revision}`)}`} download>ASAM CDF, everything</a>
        <button onClick={p.close}>Close</button>
      </div>
    </Dialog>
  );
}

export interface Brought {
  sentence: string;
  tables: (TableDifference & {understood: string; nodes_that_came: number})[];
}

/// What a pasted table would change, as the program understands it; nothing is written.
export const lookAtTable = (job: string, text: string, table: string): Promise<Brought> =>
    send<Brought>('POST', inJob(job, '/bring-in'), {text, table, dry_run: true, interpolate: true});

export function BringInDialog(p: {job: string; table: string; take(text: string): Promise<string | null>; close(): void}): JSX.Element {
  const [text, setText] = useState('');
  const [wrong, setWrong] = useState<string | null>(null);
  return (
    <Dialog title="Paste a table" close={p.close} wide>
      <p class="muted">As a spreadsheet or an exported file has it, with its axes. It is laid over the table as amendments that
        can be looked at, taken back or kept.</p>
      <textarea rows={12} aria-label="Table" value={text} onInput={(e) => setText(e.currentTarget.value)} spellcheck={false}
                style={{width: '100%', whiteSpace: 'pre'}} />
      {wrong ? <p class="note" role="alert">{wrong}</p> : null}
      <div class="words">
        <button class="filled" disabled={text.trim() === ''} onClick={() => void p.take(text).then((w) => {
          if (w === null) p.close();
          else setWrong(w);
        })}>Lay it over the table</button>
        <button onClick={p.close}>Leave it</button>
      </div>
    </Dialog>
  );
}
