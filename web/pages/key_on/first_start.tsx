// The first start, step by step: what to do, what to see, what it means if not, when to stop. Questions come first.

import type {JSX} from 'preact';
import {useState} from 'preact/hooks';
import {inJob, Refusal, send, work} from '../../lib/api.ts';
import type {FirstStart as Reply, StartQuestionReply} from '../../lib/contract.ts';
import {draft} from '../../lib/store.ts';
import {AtWork, atHead, Caution, useAsked, Wrong} from '../../view/pieces.tsx';

export function FirstStart(p: {job: string}): JSX.Element | null {
  const kept = draft<Record<string, string>>(`first-start/${p.job}`);
  const [answers, setAnswers] = useState<Record<string, string>>(() => kept.read() ?? {});
  const [done, setDone] = useState<number[]>(() => draft<number[]>(`first-start-done/${p.job}`).read() ?? []);
  const key = JSON.stringify(answers);
  const questions = useAsked(atHead(`${p.job}/start-questions/${key}`),
      () => send<StartQuestionReply>('POST', inJob(p.job, '/first-start/questions'), {answers}));
  const ready = questions.value !== null && questions.value.open === 0;
  const list = useAsked(ready ? atHead(`${p.job}/first-start/${key}`) : null, () => work<Reply>(p.job, 'first-start', {answers}));
  if (questions.error instanceof Refusal && questions.error.status === 404) return null;
  const answer = (id: string, text: string): void => {
    const next = {...answers, [id]: text};
    kept.write(next);
    setAnswers(next);
  };
  const check = (n: number): void => {
    const next = done.includes(n) ? done.filter((d) => d !== n) : [...done, n];
    draft<number[]>(`first-start-done/${p.job}`).write(next);
    setDone(next);
  };
  const q = questions.value;
  return (
    <section aria-labelledby="first-start" class="first-start">
      <h2 id="first-start" class="group-head">The first start</h2>
      <Wrong error={questions.error ?? list.error} again={questions.error ? questions.again : list.again} />
      {q ? <p style={{marginTop: '8px'}}>{list.value?.sentence ?? q.sentence}</p> : null}
      {list.value?.not_known ? <p class="muted">{list.value.not_known}</p> : null}
      {q?.questions.map((one) => (
        <fieldset key={one.id} class="to-answer start-question">
          <legend>{one.text} <span class="label">{one.changes}</span></legend>
          <div class="tabs">{one.options.map((o) => (
            <button key={o.give} aria-pressed={(answers[one.id] ?? one.answer) === o.give} onClick={() => answer(one.id, o.give)}>{o.means}</button>
          ))}</div>
        </fieldset>
      ))}
      {list.busy && !list.value ? <AtWork job={p.job} what="first-start" says="Computing what to expect" /> : null}
      {list.value ? (
        <>
          {list.value.computed ? null : <p class="note small">{list.value.not_computed}</p>}
          <Caution title="Before it runs"><ul class="small">{list.value.cautions.map((c) => <li key={c}>{c}</li>)}</ul></Caution>
          {list.value.phases.map((phase) => (
            <div key={phase.phase}>
              <h3 class="phase">{phase.label}</h3>
              <ol class="steps-list">
                {list.value!.steps.filter((s) => s.phase === phase.phase).map((s) => (
                  <li key={s.number} class={done.includes(s.number) ? 'done' : ''}>
                    <label class="tick"><input type="checkbox" checked={done.includes(s.number)} onChange={() => check(s.number)}
                      aria-label={`Step ${s.number} is done`} /></label>
                    <div>
                      <p><strong>{s.number}. {s.title}</strong></p>
                      <p>{s.do}</p>
                      {s.expect.map((e) => <p key={e.says} class={e.known ? 'expect' : 'expect guess'}>{e.says}</p>)}
                      {s.if_not ? <p class="small muted">If not: {s.if_not}</p> : null}
                      {s.stop ? <p class="small"><strong>Stop: </strong>{s.stop}</p> : null}
                      {s.cautions.map((c) => <p key={c} class="note small">{c}</p>)}
                    </div>
                  </li>
                ))}
              </ol>
            </div>
          ))}
          {list.value.because.length > 0 ? <details><summary>What this list hangs on</summary>
            <ul class="small fine">{list.value.because.map((b) => <li key={b}>{b}</li>)}</ul></details> : null}
        </>
      ) : null}
    </section>
  );
}
