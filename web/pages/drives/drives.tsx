// Drives: can these recordings be used, what was recognised, what is set aside, what must be put right first.

import './drives.css';
import 'uplot/dist/uPlot.min.css';
import type {JSX} from 'preact';
import {useMemo, useState} from 'preact/hooks';
import {get, inJob, work} from '../../lib/api.ts';
import type {Added, Check, CheckedRecording, Masks, Recording, RecordingRow} from '../../lib/contract.ts';
import {clock, figure, howLong} from '../../lib/number.ts';
import {hashOf, job as jobNow, sheetNumber} from '../../lib/store.ts';
import {AtWork, atHead, Caution, Sentence, TitleBlock, useAsked, Wrong} from '../../view/pieces.tsx';
import {TakeIn} from './take_in.tsx';
import {TracesView} from './traces_view.tsx';

export function Drives(p: {job: string}): JSX.Element {
  const list = useAsked(atHead(`${p.job}/recordings`), (s) => get<{sentence: string; recordings: RecordingRow[]}>(inJob(p.job, '/recordings'), s));
  const recordings = list.value?.recordings ?? [];
  const check = useAsked(recordings.length > 0 ? atHead(`${p.job}/check`) : null, () => work<Check>(p.job, 'check', {}));
  const [chosen, choose] = useState<number | null>(null);
  const [added, setAdded] = useState<Added | null>(null);
  const id = chosen !== null && recordings.some((r) => r.id === chosen) ? chosen : recordings.at(-1)?.id ?? null;
  return (
    <main tabIndex={-1} class="drives-page">
      <Sentence under={recordings.length > 0 ? <Tabs recordings={recordings} id={id} choose={choose} check={check.value} /> : null}>
        {check.value?.sentence ?? list.value?.sentence ?? null}</Sentence>
      <Wrong error={list.error ?? check.error} again={list.error ? list.again : check.again} />
      {id !== null
        ? <OneDrive key={id} job={p.job} id={id} check={check.value} checking={check.busy} count={recordings.length} added={added}
                    setAdded={(a) => { setAdded(a); choose(a.id); }} />
        : (
          <div class="two">
            <TakeIn job={p.job} what="Add a recording" added={(a) => { setAdded(a); choose(a.id); }} />
            <div class="side-words"><DriveCaution /></div>
          </div>
        )}
    </main>
  );
}

function Tabs(p: {recordings: readonly RecordingRow[]; id: number | null; choose(id: number): void; check: Check | null}): JSX.Element {
  return (
    <div class="tabs" role="group" aria-label="Recordings">
      {p.recordings.map((r) => {
        const c = p.check?.recordings.find((x) => x.id === r.id);
        return (
          <button key={r.id} aria-pressed={r.id === p.id} onClick={() => p.choose(r.id)}>
            {r.name}{c?.seconds ? `, ${howLong(c.seconds)}` : `, ${figure(r.rows)} rows`}{c?.key_on ? ', key on' : ''}</button>
        );
      })}
    </div>
  );
}

function OneDrive(p: {job: string; id: number; check: Check | null; checking: boolean; count: number; added: Added | null; setAdded(a: Added): void}):
    JSX.Element {
  const recording = useAsked(`${p.job}/recording/${p.id}@${jobNow.value?.units ?? ''}`, (s) => get<Recording>(inJob(p.job, `/recordings/${p.id}`), s));
  const masks = useAsked(`${p.job}/masks/${p.id}`, (s) => get<Masks>(inJob(p.job, `/recordings/${p.id}/masks`), s));
  const checked = p.check?.recordings.find((r) => r.id === p.id) ?? null;
  const notes = useMemo(() => (checked?.findings ?? []).filter((f) => f.grade !== 'fine'), [checked]);
  const letters = useMemo(() => notes.map((f, k) => ({letter: letterOf(k), at: f.from_s + Math.min(f.seconds, 10) / 2, sensor: f.sensor})), [notes]);
  const r = recording.value;
  return (
    <div class="two">
      <div>
        <Wrong error={recording.error ?? masks.error} again={recording.again} />
        {masks.value?.refused ? <p class="note">{masks.value.refused}</p> : null}
        {r ? <TracesView key={r.id} job={p.job} recording={r} masks={masks.value} letters={letters} /> : null}
      </div>
      <div class="side-words">
        {p.added && p.added.id === p.id ? (
          <div class="note" role="status"><p>{p.added.sentence}</p>
            {p.added.teaches.map((t) => <p key={t} class="small muted">can teach by {t}</p>)}
            <p><a href={hashOf(p.job, 'chart')}>To the chart</a></p></div>
        ) : null}
        {p.checking && !checked ? <AtWork job={p.job} what="check" says="Checking the sensors" /> : null}
        {checked ? <Findings checked={checked} notes={notes} /> : null}
        {checked ? <Guards checked={checked} /> : null}
        {r ? <Facts recording={r} /> : null}
        <TakeIn job={p.job} what="Add a recording" added={p.setAdded} />
        <DriveCaution />
        {r ? <TitleBlock cells={[['Recording', `${p.id} of ${p.count}`], ['Rows', figure(r.rows)], ['Sheet', sheetNumber('drives')]]} /> : null}
      </div>
    </div>
  );
}

const letterOf = (k: number): string => String.fromCharCode(97 + (k % 26));

export function Findings(p: {checked: CheckedRecording; notes: CheckedRecording['findings']}): JSX.Element {
  const fine = p.checked.findings.filter((f) => f.grade === 'fine');
  return (
    <section aria-label="Findings">
      <ul class="notes">
        {p.notes.map((f, k) => (
          <li key={k}>
            <em class="letter" aria-hidden="true">{letterOf(k)}</em>
            <div>
              <h3>{f.grade === 'stop' ? 'Stop: ' : 'Doubt: '}{f.seen}</h3>
              <p class="small">{f.why}</p>
              <p class="small">{f.what_to_do}</p>
            </div>
          </li>
        ))}
      </ul>
      {p.checked.refused ? <p class="note">{p.checked.refused}</p> : null}
      <details>
        <summary>{fine.length} findings are fine, {p.checked.not_checked.length} could not be checked</summary>
        <ul class="small fine">{fine.map((f, k) => <li key={k}>{f.seen}</li>)}
          {p.checked.not_checked.map((n) => <li key={n.check} class="guess">{n.check.replaceAll('_', ' ')}: {n.because}</li>)}</ul>
      </details>
      {p.checked.masked.length > 0 ? (
        <details>
          <summary>Set aside: {p.checked.masked.length} reasons</summary>
          <ul class="small fine">{p.checked.masked.map((m, k) => <li key={k}>{m.seconds !== null ? howLong(m.seconds) : `${figure(m.rows)} rows`}:
            {' '}{m.why}{m.sensor !== 'row' ? ` (${m.sensor.replaceAll('_', ' ')}, bank ${m.bank})` : ''}</li>)}</ul>
        </details>
      ) : null}
    </section>
  );
}

function Guards(p: {checked: CheckedRecording}): JSX.Element {
  const g = p.checked.guard;
  return (
    <section class="block" aria-label="Guards">
      {g.firings.length === 0
        ? <p>Guards: none fired in {howLong(g.seconds)}; {g.watched.length} rules watched.</p>
        : (
          <>
            <h2 class="danger"><DangerMark /> A guard fired, {g.firings.length === 1 ? 'once' : `${g.firings.length} times`}</h2>
            <ul class="notes">{g.firings.slice(0, 5).map((f, k) => (
              <li key={k}><span class="label">{p.checked.timed ? clock(f.fired_s) : figure(f.fired_s)}</span>
                <p class="small"><span class="danger">{f.rule.replaceAll('_', ' ')}</span>: {f.instruction}</p></li>))}</ul>
          </>
        )}
      {g.not_watched.length > 0 ? <p class="small muted">Not watched: {g.not_watched.join('; ')}.</p> : null}
    </section>
  );
}

export function DangerMark(): JSX.Element {
  return <svg width="14" height="13" viewBox="0 0 14 13" aria-hidden="true"><path d="M7 1 13 12H1z" fill="none" stroke="var(--danger)" stroke-width="1.5" />
    <path d="M7 5v4m0 1v1" stroke="var(--danger)" stroke-width="1.5" /></svg>;
}

function Facts(p: {recording: Recording}): JSX.Element {
  const r = p.recording, known = r.channels.filter((c) => c.quantity !== 'other');
  return (
    <section class="block" aria-label="Channels">
      <details>
        <summary>{r.channels.length} channels, {known.length} recognised</summary>
        <ul class="small fine">{r.channels.map((c) => (
          <li key={c.column}><strong>{c.header}</strong> {c.label}{c.unit ? `, ${c.unit}` : ''} <span class="label">{c.reason}</span></li>
        ))}</ul>
      </details>
      <p class="small muted">{[r.pace, r.simultaneity].filter(Boolean).join('. ')}</p>
      {r.driven_with !== null ? <p class="small muted">Driven with revision {r.driven_with} in the unit.</p> : null}
      {r.warnings.map((w) => <p key={w} class="note small">{w}</p>)}
    </section>
  );
}

function DriveCaution(): JSX.Element {
  return (
    <Caution title="Before a drive">
      <ul class="small">
        <li>One drives, one reads: the driver never looks at a screen. Alone, record now and read later.</li>
        <li>Full-load pulls belong on a closed road or a dynamometer, light load proven first, with a stop rule agreed before.</li>
        <li>Exhaust gas kills indoors: run outside or with the exhaust led out, and with a carbon monoxide alarm.</li>
        <li>Traffic law, emission rules and local codes hold; they are not known here.</li>
      </ul>
    </Caution>
  );
}
