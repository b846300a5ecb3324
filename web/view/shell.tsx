// The rail above every page: the job, the stations of the work from left to right, and what belongs to no station.

import type {ComponentChildren, JSX} from 'preact';
import {useState} from 'preact/hooks';
import {reachable, send, session, inJob, Refusal} from '../lib/api.ts';
import type {Units} from '../lib/contract.ts';
import {asVacuum, hashOf, job, jobName, kPages, page, readJob, theme, type Page, type Theme} from '../lib/store.ts';
import {Dialog, Wrong} from './pieces.tsx';
import {History} from './history.tsx';

export const kTitles: Record<Page, string> = {
  parts: 'Parts',
  supply: 'Supply',
  'first-tables': 'First tables',
  'key-on': 'Key-on',
  drives: 'Drives',
  chart: 'Chart',
};

/// Whether a station has something behind it in the job.
function reached(p: Page): boolean {
  const j = job.value;
  if (!j) return false;
  switch (p) {
    case 'parts': case 'supply': return true;
    case 'first-tables': return j.revisions.length > 0 && j.in_force !== null;
    case 'key-on': case 'drives': return j.recordings.length > 0;
    case 'chart': return j.evidence !== null;
  }
}

export function Shell(p: {children: ComponentChildren}): JSX.Element {
  const [open, setOpen] = useState<'no' | 'job'>('no');
  const name = jobName.value, lines = job.value?.sheet ?? [];
  const engine = lines.find((l) => l.section === 'engine' && l.key === 'name')?.value ?? '';
  return (
    <>
      <a class="skip" href="#answer" onClick={(e) => { e.preventDefault(); document.querySelector('main')?.focus(); }}>
        To the page
      </a>
      {reachable.value ? null : (
        <div class="banner" role="alert">
          <span>The program does not answer. What you typed stays here; this page goes on when it is back.</span>
        </div>
      )}
      <div class="rail">
        <div class="name">
          <a href="#/" title="All jobs">{name ?? 'Fuelwright'}</a>
          <span>{name === null ? 'jobs of this folder' : engine}</span>
        </div>
        {name === null ? null : (
          <nav class="stations" aria-label="Stations of the job">
            {kPages.map((one, k) => <Station key={one} page={one} job={name} first={k === 0} last={k === kPages.length - 1} />)}
          </nav>
        )}
        <div class="side">
          <button class="quiet" onClick={() => setOpen('job')} aria-haspopup="dialog">{name === null ? 'View' : 'Job'}</button>
        </div>
      </div>
      {p.children}
      <footer class="foot no-print">
        <span>Fuelwright {session.value?.version ?? ''}</span>
        <a href="/licences.txt" target="_blank" rel="noopener">Licences of what these pages carry</a>
      </footer>
      {open === 'job' ? <JobDialog close={() => setOpen('no')} /> : null}
    </>
  );
}

function Station(p: {page: Page; job: string; first: boolean; last: boolean}): JSX.Element {
  const here = page.value === p.page, done = reached(p.page);
  return (
    <a href={hashOf(p.job, p.page)} {...(here ? {'aria-current': 'page' as const} : {})}>
      {kTitles[p.page]}
      <svg aria-hidden="true" viewBox="0 0 100 16" preserveAspectRatio="none">
        {p.first ? null : <line x1="0" y1="8" x2="50" y2="8" stroke={done ? 'var(--ink)' : 'var(--rule)'} stroke-width="1.25" />}
        {p.last ? null : <line x1="50" y1="8" x2="100" y2="8" stroke={done ? 'var(--ink)' : 'var(--rule)'} stroke-width="1.25" />}
      </svg>
      <svg aria-hidden="true" viewBox="-50 0 100 16">
        {here ? (
          <>
            <path d="M0 1.5 6.5 13H-6.5z" fill="var(--paper)" stroke="var(--ink)" stroke-width="1.5" />
            <circle cx="0" cy="9" r="1.4" fill="var(--ink)" />
          </>
        ) : (
          <circle cx="0" cy="8" r="3" fill={done ? 'var(--ink)' : 'var(--paper)'} stroke={done ? 'var(--ink)' : 'var(--ink3)'} />
        )}
      </svg>
    </a>
  );
}

function JobDialog(p: {close(): void}): JSX.Element {
  const name = jobName.value;
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [history, setHistory] = useState(false);
  const setUnits = async (units: Units): Promise<void> => {
    if (name === null) return;
    try {
      await send('PUT', inJob(name, '/units'), {units});
      await readJob();
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
  };
  if (history && name !== null) return <History job={name} close={p.close} />;
  return (
    <Dialog title={name ?? 'View'} close={p.close}>
      <Wrong error={wrong} />
      {name === null || !job.value ? null : (
        <>
          <p class="muted">{job.value.sentence}</p>
          <Choice label="Units" value={job.value.units} of={[['us', 'US'], ['metric', 'Metric']]}
                  set={(v) => void setUnits(v as Units)} />
          <Choice label="MAP reads as" value={asVacuum.value ? 'inHg' : 'kPa'}
                  of={[['kPa', 'Pressure, kPa'], ['inHg', 'Vacuum, inHg']]} set={(v) => (asVacuum.value = v === 'inHg')} />
        </>
      )}
      <Choice label="Light" value={theme.value} of={[['auto', 'As the system'], ['light', 'Light'], ['dark', 'Dark']]}
              set={(v) => (theme.value = v as Theme)} />
      <div class="words">
        {name === null ? null : <button onClick={() => setHistory(true)}>Revisions and journal</button>}
        {name === null ? null : <a class="button" href={`/api/v1${inJob(name, '/file')}`} download>Copy of the job file</a>}
        {name === null ? null : <a class="button" href="#/" onClick={p.close}>All jobs</a>}
        <button onClick={() => print()}>Print this page</button>
        <button onClick={p.close}>Close</button>
      </div>
    </Dialog>
  );
}

export function Choice(p: {label: string; value: string; of: readonly (readonly [string, string])[]; set(v: string): void}):
    JSX.Element {
  return (
    <div class="words" role="group" aria-label={p.label} style={{marginTop: '12px'}}>
      <span class="label" style={{width: '104px'}}>{p.label}</span>
      <span class="tabs">
        {p.of.map(([v, text]) => (
          <button key={v} aria-pressed={p.value === v} onClick={() => p.set(v)}>{text}</button>
        ))}
      </span>
    </div>
  );
}
