// Revisions and journal: what was done, by whom, why; an earlier revision can be in force again.

import type {JSX} from 'preact';
import {useState} from 'preact/hooks';
import {get, inJob, Refusal, send} from '../lib/api.ts';
import type {JournalRow, Revision} from '../lib/contract.ts';
import {changed} from '../lib/store.ts';
import {atHead, Dialog, useAsked, Wrong} from './pieces.tsx';

export const dayAndTime = (iso: string): string => iso.slice(0, 16).replace('T', ' ');

export function History(p: {job: string; close(): void}): JSX.Element {
  const revisions = useAsked(atHead(`${p.job}/revisions`),
      (s) => get<{sentence: string; revisions: Revision[]; in_force: number}>(inJob(p.job, '/revisions'), s));
  const journal = useAsked(atHead(`${p.job}/journal`),
      (s) => get<{journal: JournalRow[]}>(inJob(p.job, '/journal'), s));
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [back, setBack] = useState<number | null>(null);
  const [why, setWhy] = useState('');
  const revert = async (): Promise<void> => {
    try {
      await send('POST', inJob(p.job, '/revert'), {revision: back, why, seen: revisions.value?.in_force});
      setBack(null);
      setWhy('');
      changed();
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
  };
  return (
    <Dialog title="Revisions and journal" close={p.close} wide>
      <Wrong error={wrong ?? revisions.error ?? journal.error} />
      <div style={{maxHeight: '60vh', overflow: 'auto'}} tabIndex={0} role="region" aria-label="Revisions and journal">
        <table class="plain">
          <thead><tr><th>Revision</th><th>Reason</th><th>By</th><th>When (UTC)</th><th /></tr></thead>
          <tbody>
            {[...(revisions.value?.revisions ?? [])].reverse().map((r) => (
              <tr key={r.number}>
                <td>{r.number}{r.in_force ? ', in force' : ''}</td>
                <td>{r.reason}</td>
                <td>{r.author}</td>
                <td style={{whiteSpace: 'nowrap'}}>{dayAndTime(r.when)}</td>
                <td>{r.in_force ? null : <button onClick={() => setBack(r.number)}>Back to {r.number}</button>}</td>
              </tr>
            ))}
          </tbody>
        </table>
        {back === null ? null : (
          <div class="block strong" style={{marginTop: '12px'}}>
            <p>Revision {back} would be in force again. Nothing is deleted; the unit in the car is not touched.</p>
            <input aria-label="Reason, kept in the journal" placeholder="Reason, kept in the journal" value={why}
                   onInput={(e) => setWhy(e.currentTarget.value)} />
            <div class="words">
              <button onClick={() => void revert()}>Put revision {back} in force</button>
              <button class="quiet" onClick={() => setBack(null)}>Leave it</button>
            </div>
          </div>
        )}
        <h3 style={{marginTop: '20px'}}>Journal</h3>
        <table class="plain">
          <tbody>
            {[...(journal.value?.journal ?? [])].reverse().map((r) => (
              <tr key={r.id}>
                <td>{r.id}</td><td style={{whiteSpace: 'nowrap'}}>{dayAndTime(r.when)}</td><td>{r.who}</td>
                <td>{r.command}</td><td>{r.why}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <div class="words"><button onClick={p.close}>Close</button></div>
    </Dialog>
  );
}
