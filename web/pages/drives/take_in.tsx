// Drop a recording: it is sent, looked at, what was recognised is shown, what is ambiguous is asked; then it is added.

import type {JSX} from 'preact';
import {useEffect, useState} from 'preact/hooks';
import {get, inJob, Refusal, send, upload, work} from '../../lib/api.ts';
import type {Added, Answers, Guess, Question, Upload} from '../../lib/contract.ts';
import {figure, parseFigure} from '../../lib/number.ts';
import {draft, changed, jobName} from '../../lib/store.ts';
import {withAnswer} from './answers.ts';
import {AtWork, atHead, useAsked, Wrong} from '../../view/pieces.tsx';

const megabytes = (bytes: number): string =>
    bytes >= 1048576 ? `${figure(bytes / 1048576, 1)} MB` : `${figure(Math.max(1, bytes / 1024))} kB`;

export function TakeIn(p: {job: string; added(a: Added): void; what: string}): JSX.Element {
  const [sending, setSending] = useState<{name: string; bytes: number; share: number} | null>(null);
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [over, setOver] = useState(false);
  const waiting = useAsked(atHead(`${p.job}/uploads`), (s) => get<{uploads: Upload[]}>(inJob(p.job, '/uploads'), s));
  const take = async (files: FileList | null): Promise<void> => {
    setWrong(null);
    for (const file of Array.from(files ?? [])) {
      setSending({name: file.name, bytes: file.size, share: 0});
      try {
        await upload(p.job, file, (share) => setSending({name: file.name, bytes: file.size, share}));
      } catch (e) {
        if (e instanceof Refusal) setWrong(e);
      }
      setSending(null);
      waiting.again();
    }
  };
  return (
    <section aria-label={p.what} class="take-in">
      <div class={`drop${over ? ' over' : ''}`} onDragOver={(e) => { e.preventDefault(); setOver(true); }} onDragLeave={() => setOver(false)}
           onDrop={(e) => { e.preventDefault(); setOver(false); void take(e.dataTransfer?.files ?? null); }}>
        <label class="button">{p.what}
          <input type="file" class="hidden" multiple onChange={(e) => { void take(e.currentTarget.files); e.currentTarget.value = ''; }} />
        </label>
        <span class="muted small">Drop it here, or choose a file: CSV as loggers write it, or MDF 4.</span>
      </div>
      {sending ? (
        <div role="status">
          <p>{sending.name}, {megabytes(sending.bytes)}: {Math.round(sending.share * 100)} % sent</p>
          <div class="progress" aria-hidden="true"><div style={{width: `${sending.share * 100}%`}} /></div>
        </div>
      ) : null}
      <Wrong error={wrong} />
      {(waiting.value?.uploads ?? []).map((u) => <Waiting key={u.upload} job={p.job} upload={u} gone={waiting.again} added={p.added} />)}
    </section>
  );
}

/// One file that has come and is not added yet. Answers are kept through a reload.
function Waiting(p: {job: string; upload: Upload; gone(): void; added(a: Added): void}): JSX.Element {
  const kept = draft<Answers>(`answers/${p.job}/${p.upload.upload}`);
  const [answers, setAnswers] = useState<Answers>(() => kept.read() ?? {});
  const [adding, setAdding] = useState(false);
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const path = `/uploads/${encodeURIComponent(p.upload.upload)}`;
  const look = useAsked(`${p.upload.upload}@${JSON.stringify(answers)}`, () =>
      send<Upload>('POST', inJob(p.job, `${path}/look`), {answers}));
  useEffect(() => kept.write(answers), [answers]);
  const questions = wrong?.problem.questions ?? look.value?.questions ?? [];
  const add = async (): Promise<void> => {
    setAdding(true);
    setWrong(null);
    try {
      const a = await work<Added>(p.job, 'add', {upload: p.upload.upload, answers});
      kept.write(null);
      if (jobName.peek() === p.job) p.added(a);
      changed();
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
    setAdding(false);
    p.gone();
  };
  const away = async (): Promise<void> => {
    await send('DELETE', inJob(p.job, path)).catch((e: unknown) => e instanceof Refusal && setWrong(e));
    kept.write(null);
    p.gone();
  };
  const u = look.value;
  return (
    <article class="waiting" aria-label={p.upload.name}>
      <h3>{p.upload.name} <span class="label">{megabytes(p.upload.bytes)}{u?.rows ? `, ${figure(u.rows)} rows` : ''}</span></h3>
      {look.busy && !u ? <p class="muted" role="status">Looking at it…</p> : null}
      <Wrong error={look.error} again={look.again} />
      {u && !u.readable && questions.length === 0 ? <p class="note" role="alert">{u.problem}</p> : null}
      {u?.kept_answers ? <p class="small muted">{u.kept_answers}</p> : null}
      {u?.warnings?.map((w) => <p key={w} class="note small">{w}</p>)}
      {questions.map((q) => <Ask key={q.header + q.unclear} q={q} answers={answers} set={(a) => { setWrong(null); setAnswers(a); }} />)}
      {u?.columns && u.columns.length > 0 ? <Recognised columns={u.columns} /> : null}
      {wrong && !wrong.problem.questions ? <Wrong error={wrong} /> : null}
      {adding ? <AtWork job={p.job} what="add" says="Taking it in" /> : (
        <div class="words">
          <button class="filled" disabled={!u || !u.readable || questions.length > 0} onClick={() => void add()}>Add to the job</button>
          <button onClick={() => void away()}>Throw it away</button>
        </div>
      )}
    </article>
  );
}

function Ask(p: {q: Question; answers: Answers; set(a: Answers): void}): JSX.Element {
  const {q} = p;
  const [constant, setConstant] = useState('');
  const take = (answer: Answers): void => p.set(withAnswer(p.answers, answer));
  const open = q.options.find((o) => o.means.includes('CONSTANT'));
  const value = parseFigure(constant);
  return (
    <fieldset class="to-answer">
      <legend><strong>{q.header ? `“${q.header}”: ` : ''}</strong>{q.unclear}</legend>
      <div class="words">
        {q.options.filter((o) => o !== open).map((o) => <button key={o.give} onClick={() => take(o.answer)}>{o.means || o.give}</button>)}
        {open ? (
          <span class="words">
            <label>{open.means.replace('CONSTANT', '')}<input class="short" inputMode="decimal" value={constant} aria-label={open.means}
              onInput={(e) => setConstant(e.currentTarget.value)} /></label>
            <button disabled={value === null} onClick={() => take(JSON.parse(JSON.stringify(open.answer).replaceAll('CONSTANT', String(value))) as Answers)}>
              with this constant</button>
          </span>
        ) : null}
      </div>
    </fieldset>
  );
}

export function Recognised(p: {columns: readonly Guess[]}): JSX.Element {
  const known = p.columns.filter((c) => c.quantity !== 'other');
  return (
    <details open={p.columns.length <= 16}>
      <summary>{known.length} of {p.columns.length} columns recognised</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label="Columns">
        <table class="plain small">
          <thead><tr><th>Column</th><th>Is read as</th><th>Unit</th><th class="right">Sure to</th><th>Because</th></tr></thead>
          <tbody>
            {p.columns.map((c) => (
              <tr key={c.header}><td>{c.header}</td><td>{c.quantity === 'other' ? <span class="guess">not used</span> : c.quantity.replaceAll('_', ' ')}
                {c.bank > 1 ? `, bank ${c.bank}` : ''}</td><td>{c.unit}</td><td class="right">{figure(c.confidence * 100)} %</td>
                <td class="muted">{c.reason}</td></tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}
