// Beside the chart: the next drive, what is proposed, accept.

import type {JSX} from 'preact';
import {useState} from 'preact/hooks';
import {inJob, Refusal, send} from '../../lib/api.ts';
import type {Chart, Estimate, Plan, PlanStep, Proposal} from '../../lib/contract.ts';
import {figure, howLong} from '../../lib/number.ts';
import {changed} from '../../lib/store.ts';
import {AtWork, Caution, Dialog, Wrong, type Asked} from '../../view/pieces.tsx';

const kGears = ['', 'first', 'second', 'third', 'fourth', 'fifth', 'sixth', 'seventh', 'eighth'];

/// The step in a few words; all of it is read out in the dialog.
function short(s: PlanStep): string {
  if (!(s.from_rpm > 0)) return `Standing, ${s.kind}`;
  const speed = s.until_rpm !== null && s.until_rpm !== s.from_rpm ? `${figure(s.from_rpm)} to ${figure(s.until_rpm)} rpm`
                                                                    : `${figure(s.from_rpm)} rpm`;
  const gear = s.gear !== null && kGears[s.gear] ? `, ${kGears[s.gear]}` : '';
  return `${speed}, ${figure(s.pressure_pa / 1000)} kPa${gear}`;
}

export function NextDrive(p: {job: string; plan: Asked<Plan>}): JSX.Element {
  const [all, setAll] = useState(false);
  const plan = p.plan.value;
  if (!plan) {
    return (
      <section aria-labelledby="next-drive">
        <h2 id="next-drive">The next drive</h2>
        {p.plan.busy ? <AtWork job={p.job} what="plan" says="Weighing where driving teaches most" /> : null}
        <Wrong error={p.plan.error} again={p.plan.again} />
      </section>
    );
  }
  return (
    <section aria-labelledby="next-drive">
      <h2 id="next-drive">The next drive</h2>
      {p.plan.busy ? <AtWork job={p.job} what="plan" says="Weighing again: the job has changed since this plan" /> : null}
      <Wrong error={p.plan.error} again={p.plan.again} />
      <p class="muted small">{plan.sentence}</p>
      <ol class="rows steps" style={{marginTop: '8px'}}>
        {plan.steps.slice(0, 5).map((s, k) => (
          <li key={k}><span class="n">{k + 1}</span><span>{short(s)}</span><span class="end">{howLong(s.seconds)}</span></li>
        ))}
      </ol>
      <div class="words" style={{marginTop: '6px'}}>
        <button onClick={() => setAll(true)} aria-haspopup="dialog">
          {plan.steps.length > 5 ? `All ${plan.steps.length} steps, as they are read out` : 'As it is read out'}
        </button>
      </div>
      {all ? <WholePlan plan={plan} close={() => setAll(false)} /> : null}
    </section>
  );
}

function WholePlan(p: {plan: Plan; close(): void}): JSX.Element {
  const {plan} = p;
  return (
    <Dialog title="The next drive" close={p.close} wide>
      <p>{plan.sentence}</p>
      <div style={{maxHeight: '58vh', overflow: 'auto', marginTop: '12px'}} tabIndex={0} role="region" aria-label="Steps and cautions">
        <Caution title="Before you drive"><ul>{plan.cautions.map((c) => <li key={c}>{c}</li>)}</ul></Caution>
        <ol class="rows" style={{marginTop: '12px'}}>
          {plan.steps.map((s, k) => <li key={k}><span class="n">{k + 1}</span><span>{s.says}</span></li>)}
        </ol>
        {[...plan.assumed, ...plan.left_out].map((t) => <p key={t} class="muted small" style={{marginTop: '6px'}}>{t}</p>)}
      </div>
      <div class="words"><button onClick={() => print()}>Print</button><button onClick={p.close}>Close</button></div>
    </Dialog>
  );
}

export function Proposed(p: {job: string; chart: Chart; proposal: Proposal | null; estimate: Estimate | null; accepted(says: string): void}):
    JSX.Element {
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [busy, setBusy] = useState(false);
  const {proposal} = p;
  const accept = async (): Promise<void> => {
    setBusy(true);
    setWrong(null);
    try {
      const r = await send<{sentence: string}>('POST', inJob(p.job, '/accept'), {seen: proposal!.proposal});
      p.accepted(r.sentence);
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
    setBusy(false);
    changed();
  };
  return (
    <section class="block strong" aria-labelledby="proposed">
      <h2 id="proposed">What is proposed</h2>
      {proposal ? (
        <>
          {p.estimate && p.estimate.change_words.length > 0
            ? p.estimate.change_words.slice(0, 3).map((w) => <p key={w}>{w}</p>) : <p>{proposal.reason}</p>}
          {proposal.may_accept ? null : <p class="note">{proposal.because}</p>}
          <Wrong error={wrong} />
          <p style={{marginTop: '10px'}}>
            <button class="filled" disabled={!proposal.may_accept || busy} onClick={() => void accept()}>Accept the proposal</button>
          </p>
          <p class="small muted" style={{marginTop: '8px'}}>
            Towards lean only what driving proved is proposed; a lean mixture under load can destroy an engine. Read the evidence,
            keep the table as found, change a little at a time. Emission law for public roads applies.
          </p>
        </>
      ) : <p class="muted">No proposal is open.</p>}
    </section>
  );
}
