// Key-on: can the sensors be believed before the engine runs? And then the first start, step by step.

import '../drives/drives.css';
import './key_on.css';
import '../parts/parts.css';
import type {JSX} from 'preact';
import {useState} from 'preact/hooks';
import {get, inJob, work} from '../../lib/api.ts';
import type {Added, Check, RecordingRow} from '../../lib/contract.ts';
import {figure, howLong} from '../../lib/number.ts';
import {draft, sheetNumber} from '../../lib/store.ts';
import {AtWork, atHead, Caution, Sentence, TitleBlock, useAsked, Wrong} from '../../view/pieces.tsx';
import {Findings} from '../drives/drives.tsx';
import {TakeIn} from '../drives/take_in.tsx';
import {FirstStart} from './first_start.tsx';

export function KeyOn(p: {job: string}): JSX.Element {
  const kept = draft<number[]>(`key-on/${p.job}`);
  const [marked, setMarked] = useState<number[]>(() => kept.read() ?? []);
  const list = useAsked(atHead(`${p.job}/recordings`), (s) => get<{sentence: string; recordings: RecordingRow[]}>(inJob(p.job, '/recordings'), s));
  const recordings = list.value?.recordings ?? [];
  const standing = marked.filter((id) => recordings.some((r) => r.id === id));
  const check = useAsked(standing.length > 0 ? atHead(`${p.job}/key-on/${standing.join()}`) : null,
      () => work<Check>(p.job, 'check', {key_on: standing.map(String)}));
  const mark = (id: number, on: boolean): void => {
    const next = on ? [...marked, id] : marked.filter((m) => m !== id);
    kept.write(next);
    setMarked(next);
  };
  const added = (a: Added): void => mark(a.id, true);
  const looked = check.value?.recordings.filter((r) => r.key_on) ?? [];
  return (
    <main tabIndex={-1} class="key-on-page">
      <Sentence under="Key on, engine off: what every sensor reads when nothing moves.">
        {check.value?.sentence ?? (list.value && standing.length === 0
          ? 'Not known yet: nothing recorded with the key on and the engine standing is marked.' : null)}</Sentence>
      <Wrong error={check.error ?? list.error} again={check.error ? check.again : list.again} />
      <div class="two">
        <div>
          {check.busy && !check.value ? <AtWork job={p.job} what="check" says="Looking at the standing sensors" /> : null}
          {looked.map((r) => (
            <section key={r.id} aria-label={r.name} style={{marginBottom: '20px'}}>
              <h2 class="group-head">{r.name} <span class="label">{r.timed && r.seconds ? howLong(r.seconds) : ''}</span></h2>
              <div style={{marginTop: '10px'}}><Findings checked={r} notes={r.findings.filter((f) => f.grade !== 'fine')} /></div>
              <table class="plain">
                <thead><tr><th>Sensor</th><th>What it shows</th><th>Judged</th></tr></thead>
                <tbody>{r.findings.map((f, k) => (
                  <tr key={k}><td style={{whiteSpace: 'nowrap'}}>{f.sensor.replaceAll('_', ' ')}</td><td>{f.seen}</td>
                    <td>{f.grade === 'fine' ? 'fine' : <strong>{f.grade}</strong>}</td></tr>
                ))}</tbody>
              </table>
            </section>
          ))}
          {standing.length === 0 ? (
            <section>
              <h2>How to record it</h2>
              <ol class="rows steps" style={{marginTop: '8px'}}>
                {['Engine cold, standing overnight if that can be had; battery charged.',
                  'Key on, do not start. Let the logger run until the mixture sensor is warm.',
                  'Press the pedal slowly to the floor and let it come back, twice.',
                  'Stop the logger, then add the file here and mark it as standing.'].map((t, k) => (
                  <li key={k}><span class="n">{k + 1}</span><span>{t}</span></li>))}
              </ol>
            </section>
          ) : null}
          <FirstStart job={p.job} />
        </div>
        <div class="side-words">
          <TakeIn job={p.job} what="Add a key-on recording" added={added} />
          {recordings.length > 0 ? (
            <section aria-labelledby="standing">
              <h2 id="standing">Recorded with the engine standing</h2>
              <div class="rows" style={{marginTop: '6px'}}>
                {recordings.map((r) => (
                  <label key={r.id} style={{display: 'flex', gap: '10px', padding: '6px 0'}}>
                    <input type="checkbox" checked={marked.includes(r.id)} onChange={(e) => mark(r.id, e.currentTarget.checked)} />
                    <span>{r.name}, {figure(r.rows)} rows</span></label>
                ))}
              </div>
            </section>
          ) : null}
          <Caution title="With the key on">
            <ul class="small">
              <li>The pump may run and the rail is under pressure: look for leaks, no ignition source, an extinguisher within reach.</li>
              <li>Ignition parts can fire: hands, hair and sleeves away from coils, belts and fans; gearbox in neutral, brake on.</li>
              <li>Before the engine runs, lead the exhaust out and switch a carbon monoxide alarm on.</li>
            </ul>
          </Caution>
          <TitleBlock cells={[['Recordings', String(recordings.length)], ['Standing', String(standing.length)], ['Sheet', sheetNumber('key-on')]]} />
        </div>
      </div>
    </main>
  );
}
