// Before there is a job: the jobs of the folder, and a new one from five answers or a build sheet.

import type {JSX} from 'preact';
import {useEffect, useState} from 'preact/hooks';
import {get, Refusal, send} from '../../lib/api.ts';
import type {JobRow, StartQuestion} from '../../lib/contract.ts';
import {draft, hashOf, jobsChanged} from '../../lib/store.ts';
import {Sentence, useAsked, Wrong} from '../../view/pieces.tsx';
import {dayAndTime} from '../../view/history.tsx';
import './parts.css';

interface Draft {
  name: string;
  answers: Record<string, string>;
  sheet: string;
  units: 'us' | 'metric' | '';
}

const kDraft = draft<Draft>('new-job');

export function Jobs(): JSX.Element {
  const jobs = useAsked(`jobs@${jobsChanged.value}`, (s) => get<{sentence: string; jobs: JobRow[]}>('/jobs', s));
  return (
    <main tabIndex={-1}>
      <Sentence under="A job is one car: its parts, its recordings, its tables and how sure they are.">
        {jobs.value?.sentence ?? null}</Sentence>
      <Wrong error={jobs.error} again={jobs.again} />
      <div class="two jobs">
        <NewJob />
        <section aria-labelledby="jobs-here">
          <h2 id="jobs-here">Jobs here</h2>
          <ul class="rows" style={{marginTop: '8px'}}>
            {(jobs.value?.jobs ?? []).map((j) => (
              <li key={j.job}>
                {j.problem === null ? (
                  <span><a href={hashOf(j.job, 'parts')}><strong>{j.job}</strong></a><br />
                    <span class="small muted">{j.sentence}</span><br />
                    <span class="label">changed {dayAndTime(j.changed)}</span></span>
                ) : <span><strong>{j.job}</strong><br /><span class="small">{j.problem}</span></span>}
              </li>
            ))}
            {jobs.value?.jobs.length === 0 ? <li class="muted">None yet.</li> : null}
          </ul>
        </section>
      </div>
    </main>
  );
}

function NewJob(): JSX.Element {
  const questions = useAsked('questions', (s) => get<{questions: StartQuestion[]}>('/questions', s));
  const [form, setForm] = useState<Draft>(() => kDraft.read() ?? {name: '', answers: {}, sheet: '', units: ''});
  const [bySheet, setBySheet] = useState(form.sheet !== '');
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [busy, setBusy] = useState(false);
  useEffect(() => kDraft.write(form), [form]);
  const all = questions.value?.questions ?? [];
  const ready = form.name.trim() !== '' && (bySheet ? form.sheet.trim() !== '' :
      all.length > 0 && all.every((q) => (form.answers[q.id] ?? '').trim() !== ''));
  const create = async (): Promise<void> => {
    setBusy(true);
    setWrong(null);
    try {
      const body = {job: form.name.trim(), ...(bySheet ? {sheet: form.sheet} : {answers: all.map((q) => form.answers[q.id])}),
                    ...(form.units === '' ? {} : {units: form.units})};
      const r = await send<{job: string}>('POST', '/jobs', body);
      kDraft.write(null);
      location.hash = hashOf(r.job, 'parts');
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
      setBusy(false);
    }
  };
  return (
    <form aria-labelledby="new-job" onSubmit={(e) => { e.preventDefault(); if (ready) void create(); }}>
      <h2 id="new-job">A new job</h2>
      <p class="muted">{bySheet ? 'From a build sheet in TOML.' : 'Five answers are enough; everything else is filled with what is typical, and says so.'}</p>
      <Wrong error={questions.error} again={questions.again} />
      <label class="ask"><span class="label">What the job is called</span>
        <input value={form.name} required maxLength={80} onInput={(e) => setForm({...form, name: e.currentTarget.value})} /></label>
      {bySheet ? (
        <label class="ask"><span class="label">Build sheet</span>
          <textarea rows={14} value={form.sheet} spellcheck={false} onInput={(e) => setForm({...form, sheet: e.currentTarget.value})} />
          <input type="file" accept=".toml,text/plain" aria-label="Build sheet from a file" onChange={(e) => {
            void e.currentTarget.files?.[0]?.text().then((t) => setForm((f) => ({...f, sheet: t})));
          }} /></label>
      ) : all.map((q) => (
        <Ask key={q.id} q={q} value={form.answers[q.id] ?? ''}
             set={(v) => setForm((f) => ({...f, answers: {...f.answers, [q.id]: v}}))} />
      ))}
      <div class="ask words" role="group" aria-label="Units">
        <span class="label">Figures in</span>
        <span class="tabs">
          {([['', 'as the answers'], ['us', 'US units'], ['metric', 'metric units']] as const).map(([v, t]) => (
            <button type="button" key={v} aria-pressed={form.units === v} onClick={() => setForm({...form, units: v})}>{t}</button>
          ))}
        </span>
      </div>
      <Wrong error={wrong} />
      <div class="words" style={{marginTop: '16px'}}>
        <button type="submit" class="filled" disabled={!ready || busy}>Begin the job</button>
        <button type="button" class="quiet" onClick={() => setBySheet(!bySheet)}>
          {bySheet ? 'Answer five questions instead' : 'Paste a build sheet instead'}</button>
      </div>
    </form>
  );
}

/// One question; what was understood is said back as soon as the field is left.
function Ask(p: {q: StartQuestion; value: string; set(v: string): void}): JSX.Element {
  const [back, setBack] = useState<{ok: boolean; says: string} | null>(null);
  const look = async (): Promise<void> => {
    if (p.value.trim() === '') return setBack(null);
    try {
      const r = await send<{understood: string}>('POST', '/questions/check', {id: p.q.id, answer: p.value});
      setBack({ok: true, says: r.understood});
    } catch (e) {
      if (e instanceof Refusal) setBack({ok: false, says: e.problem.message});
    }
  };
  const says = `says-${p.q.id}`;
  return (
    <label class="ask">
      <span class="question">{p.q.text}</span>
      <input value={p.value} placeholder={p.q.example} aria-describedby={says} aria-invalid={back?.ok === false}
             onInput={(e) => { p.set(e.currentTarget.value); setBack(null); }} onBlur={() => void look()} />
      <span id={says} class={`small says ${back?.ok === false ? '' : 'muted'}`} aria-live="polite">
        {back ? (back.ok ? `understood: ${back.says}` : back.says) : ''}</span>
    </label>
  );
}
