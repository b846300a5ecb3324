// Parts: what is this engine, how well is each part known, and what is worth measuring next.

import './parts.css';
import type {JSX} from 'preact';
import {useEffect, useRef, useState} from 'preact/hooks';
import {get, inJob, Refusal, send, work} from '../../lib/api.ts';
import type {Line, Predict, Sheet, SheetChange, Worth} from '../../lib/contract.ts';
import {figure} from '../../lib/number.ts';
import {changed, printing, sheetNumber} from '../../lib/store.ts';
import {AtWork, atHead, Sentence, TitleBlock, useAsked, Wrong} from '../../view/pieces.tsx';
import {Drawing} from './drawing.tsx';
import {balloonOf, kGroups, linesOf, type Group} from './part_groups.ts';

/// The most worthwhile of all kinds of driving.
function best(worth: readonly Worth[]): Worth | null {
  let found: Worth | null = null, most = 0;
  for (const w of worth) {
    const gain = w.half_width_95_before - w.half_width_95_after;
    if (gain > most) {
      most = gain;
      found = w;
    }
  }
  return found;
}

export function Parts(p: {job: string}): JSX.Element {
  const sheet = useAsked(atHead(`${p.job}/sheet`), (s) => get<Sheet>(inJob(p.job, '/sheet'), s));
  const [opened, setOpened] = useState<string | null>(null);
  const [working, setWorking] = useState(false);
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [said, setSaid] = useState('');
  const s = sheet.value;
  if (!s) return <main tabIndex={-1}><Sentence>{null}</Sentence><Wrong error={sheet.error} again={sheet.again} /></main>;
  const next = best(s.worth);
  const nextGroup = next ? kGroups.find((g) => g.told?.test(next.measuring)) ?? null : null;
  const weigh = async (): Promise<void> => {
    setWorking(true);
    setWrong(null);
    try {
      await work<Predict>(p.job, 'predict', {keep: 'never'});
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
    setWorking(false);
    sheet.again();
  };
  const measured = s.sheet.filter((l) => l.source === 'measured').length;
  const open = (balloon: number): void => {
    const group = kGroups.find((g) => g.balloon === (balloon === 2 ? 1 : balloon));
    const line = group ? linesOf(group, s.sheet).find((l) => balloonOf(l) === balloon) : undefined;
    if (line) setOpened(`${line.section}.${line.key}`);
  };
  const one = (g: Group): JSX.Element => (
    <GroupOfParts key={g.title} job={p.job} group={g} sheet={s} opened={opened} setOpened={setOpened} next={nextGroup === g}
                  said={setSaid} />
  );
  return (
    <main tabIndex={-1} class="parts-page">
      <Sentence under={s.worth_says}>{s.sentence}</Sentence>
      <FiveAnswers sheet={s.sheet} open={setOpened} opened={opened} />
      {said ? <p class="note" role="status" style={{marginTop: '12px'}}>{said}</p> : null}
      <div class="two parts">
        <div>
          <Drawing sheet={s.sheet} next={nextGroup?.balloon ?? null} open={open} />
          <NextMeasurement sheet={s} next={next} working={working} weigh={() => void weigh()} job={p.job} wrong={wrong} />
        </div>
        <div class="parts-list">
          {kGroups.filter((g) => g.drawn).map(one)}
        </div>
      </div>
      <div class="parts-more">{kGroups.filter((g) => !g.drawn).map(one)}</div>
      <div class="corner-block">
        <TitleBlock cells={[['Given', `${s.given} of ${s.given + s.typical}`], ['Measured', String(measured)],
                            ['Sheet', sheetNumber('parts')]]} />
      </div>
    </main>
  );
}

/// The five that a sheet must have, in one band; each opens its line below.
function FiveAnswers(p: {sheet: readonly Line[]; opened: string | null; open(key: string): void}): JSX.Element {
  const find = (section: string, key: string): Line | undefined => p.sheet.find((l) => l.section === section && l.key === key);
  const bore = find('engine', 'bore'), stroke = find('engine', 'stroke'), displacement = find('engine', 'displacement');
  const byBore = bore && stroke && bore.source !== 'typical' && stroke.source !== 'typical';
  const cells: [label: string, value: string, key: string][] = [
    byBore ? ['Bore and stroke', `${bore.value} × ${stroke.value}`, 'engine.bore'] :
             ['Displacement', displacement?.value ?? '', 'engine.displacement'],
    ['Cylinders', find('engine', 'cylinders')?.value ?? '', 'engine.cylinders'],
    ['Cam at 0.050 in lift', [find('cam', 'intake_duration_050')?.value, find('cam', 'exhaust_duration_050')?.value]
        .filter((v) => v !== undefined).join(' / '), 'cam.intake_duration_050'],
    ['Injector flow', `${find('injection', 'injector_flow')?.value ?? ''} at ${find('injection', 'injector_pressure')?.value ?? ''}`,
     'injection.injector_flow'],
    ['Fuel', find('fuel', 'name')?.value ?? '', 'fuel.name'],
  ];
  return (
    <ul class="five" aria-label="The five answers">
      {cells.map(([label, value, key]) => (
        <li key={label}>
          <button onClick={() => p.open(key)} aria-expanded={p.opened === key}>
            <span class="label">{label}</span><span class="value">{value}</span><span class="hidden">, change</span>
          </button>
        </li>
      ))}
    </ul>
  );
}

function NextMeasurement(p: {sheet: Sheet; next: Worth | null; working: boolean; job: string; wrong: Refusal | null; weigh(): void}):
    JSX.Element {
  const {sheet} = p;
  return (
    <section aria-labelledby="measure-next" class="measure-next">
      <h2 id="measure-next">What to measure next</h2>
      {sheet.worth.length > 0 ? (
        <table class="plain">
          <thead><tr><th>Measurement</th><th>Driving</th><th class="right">known to</th><th class="right">then</th></tr></thead>
          <tbody>
            {[...sheet.worth].sort((a, b) => (b.half_width_95_before - b.half_width_95_after) - (a.half_width_95_before - a.half_width_95_after))
                .slice(0, 6).map((w) => (
              <tr key={w.driving + w.measuring} class={w === p.next ? 'plan' : ''}>
                <td>{w.measuring}</td><td>{w.driving}</td>
                <td class="right">± {figure(w.half_width_95_before * 100, 1)} %</td>
                <td class="right"><strong>± {figure(w.half_width_95_after * 100, 1)} %</strong></td>
              </tr>
            ))}
          </tbody>
        </table>
      ) : sheet.worth_of === 'none' ? null : <p class="muted">No measurement of the parts would narrow it by much.</p>}
      <Wrong error={p.wrong} />
      {p.working ? <AtWork job={p.job} what="predict" says="Computing the engines that could be this one" /> :
       sheet.worth_of === 'this' ? null : (
        <p style={{marginTop: '8px'}}><button class="filled" onClick={p.weigh}>
          {sheet.worth_of === 'none' ? 'Weigh the measurements' : 'Weigh them again for this sheet'}</button></p>
      )}
    </section>
  );
}

function GroupOfParts(p: {
  job: string; group: Group; sheet: Sheet; opened: string | null; next: boolean;
  setOpened(key: string | null): void; said(s: string): void;
}): JSX.Element | null {
  const lines = linesOf(p.group, p.sheet.sheet);
  const [all, setAll] = useState(false);
  if (lines.length === 0) return null;
  const given = lines.filter((l) => l.source !== 'typical' && l.source !== 'computed').length;
  const open = all || printing.value || lines.some((l) => `${l.section}.${l.key}` === p.opened && !brief(lines, p.group).includes(l));
  const shown = open ? lines : brief(lines, p.group);
  return (
    <section aria-label={p.group.title}>
      <h2 class="group-head">{p.group.title}
        <button class="quiet small" aria-expanded={open} onClick={() => setAll(!open)}>
          {`${given} of ${lines.length} given`}{open ? ', fewer' : ', all'}</button>
      </h2>
      {shown.length > 0 ? (
        <ul class="lines">
          {shown.map((l) => <PartLine key={`${l.section}.${l.key}`} job={p.job} line={l} sheet={p.sheet} next={p.next}
                                      opened={p.opened === `${l.section}.${l.key}`} setOpened={p.setOpened} said={p.said} />)}
        </ul>
      ) : null}
    </section>
  );
}

/// What a group shows before it is opened: the figures that have a spread, those that were given first.
function brief(lines: readonly Line[], group: Group): Line[] {
  if (!group.drawn) return [];
  const told = (l: Line): number => (l.tolerance === '' ? 2 : 0) + (l.source === 'typical' ? 1 : 0);
  const first = [...lines].sort((a, b) => told(a) - told(b)).slice(0, 5);
  return lines.filter((l) => first.includes(l));
}

/// "hydraulic_flat" is read as words.
const worded = (value: string): string => (/^[a-z_]+$/.test(value) ? value.replaceAll('_', ' ') : value);

function PartLine(p: {
  job: string; line: Line; sheet: Sheet; opened: boolean; next: boolean; setOpened(key: string | null): void; said(s: string): void;
}): JSX.Element {
  const {line} = p, key = `${line.section}.${line.key}`, n = balloonOf(line);
  const ref = useRef<HTMLLIElement>(null);
  useEffect(() => {
    if (p.opened) ref.current?.scrollIntoView({block: 'nearest'});
  }, [p.opened]);
  const guess = line.source === 'typical';
  return (
    <li ref={ref} class={`${p.opened ? 'open ' : ''}${p.next && guess ? 'next' : ''}`}>
      <button class="line" aria-expanded={p.opened} onClick={() => p.setOpened(p.opened ? null : key)}>
        <span class="item">{n ?? ''}</span>
        <span class="about">{line.about}</span>
        <span class={`value ${guess ? 'guess' : line.source === 'measured' ? 'figure' : ''}`}>{worded(line.value)}</span>
        <span class="tolerance muted">{line.tolerance ? `± ${line.tolerance}` : ''}</span>
        <ToleranceBar line={line} />
        <span class="source"><SourceMark source={line.source} /> {line.source}</span>
      </button>
      {p.opened ? <Editor job={p.job} line={line} head={p.sheet.head} close={() => p.setOpened(null)} said={p.said} /> : null}
    </li>
  );
}

export function SourceMark(p: {source: Line['source']}): JSX.Element {
  return (
    <svg width="9" height="9" viewBox="-4.5 -4.5 9 9" aria-hidden="true">
      {p.source === 'measured' ? <circle r="3.2" fill="var(--ink)" /> :
       p.source === 'stated' ? <><circle r="2.9" fill="none" stroke="var(--ink)" /><path d="M0-2.9a2.9 2.9 0 0 1 0 5.8z" fill="var(--ink)" /></> :
       p.source === 'computed' ? <circle r="2.9" fill="none" stroke="var(--ink)" /> :
       <path d="M-3.2 0h6.4M0-3.2v6.4" stroke="var(--ink3)" />}
    </svg>
  );
}

/// Full width: the usual spread of such engines; the bar: what is left of it.
function ToleranceBar(p: {line: Line}): JSX.Element {
  const {line} = p, usual = line.usual_tolerance_si;
  if (!usual || !(line.tolerance_si >= 0) || line.tolerance === '') return <span class="bar" />;
  const share = Math.min(1, line.tolerance_si / usual), w = Math.max(4, 74 * share);
  const look = line.source === 'measured' ? 'var(--ink)' : line.source === 'typical' ? 'url(#h-typical)' : 'url(#h-stated)';
  return (
    <svg class="bar" width="76" height="12" aria-hidden="true">
      <path d="M1 9h74M1 6v6m37-6v6m37-6v6" stroke="var(--rule)" />
      <rect x={38 - w / 2} y="1.5" width={w} height="6" fill={look} stroke="var(--ink)" stroke-width=".8" />
    </svg>
  );
}

function Editor(p: {job: string; line: Line; head: number; close(): void; said(s: string): void}): JSX.Element {
  const {line} = p;
  const [value, setValue] = useState(line.source === 'typical' ? '' : line.value + (line.tolerance ? ` +- ${line.tolerance}` : ''));
  const [source, setSource] = useState<'measured' | 'stated'>(line.source === 'stated' ? 'stated' : 'measured');
  const [look, setLook] = useState<SheetChange | null>(null);
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const change = (v: string | null, dry: boolean): Promise<SheetChange> =>
      send('PATCH', inJob(p.job, '/sheet'), {
        changes: [{section: line.section, key: line.key, value: v, ...(v === null ? {} : {source})}], dry_run: dry, seen: p.head,
      });
  useEffect(() => {
    setLook(null);
    setWrong(null);
    if (value.trim() === '') return;
    let stale = false;
    const later = setTimeout(() => {
      change(value, true).then((r) => !stale && setLook(r), (e: unknown) => !stale && e instanceof Refusal && setWrong(e));
    }, 350);
    return () => {
      stale = true;
      clearTimeout(later);
    };
  }, [value, source]);
  const write = async (v: string | null): Promise<void> => {
    try {
      const r = await change(v, false);
      p.said(r.sentence);
      p.close();
      changed();
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
  };
  const id = `edit-${line.section}-${line.key}`;
  const others = look ? look.changed.filter((l) => l.section !== line.section || l.key !== line.key) : [];
  return (
    <form class="editor" onSubmit={(e) => { e.preventDefault(); void write(value); }}>
      {line.reason ? <p class="small muted">{line.source === 'typical' || line.source === 'computed' ? `${line.source}: ` : ''}{line.reason}</p> : null}
      {line.allowed ? <p class="small muted">Allowed: {line.allowed}</p> : null}
      <div class="edit-row">
        <label for={id} class="label">{line.about}</label>
        {line.choices ? (
          <select id={id} value={value} onChange={(e) => setValue(e.currentTarget.value)}>
            <option value="">choose</option>
            {line.choices.map((c) => <option key={c} value={c}>{c.replaceAll('_', ' ')}</option>)}
          </select>
        ) : <input id={id} autofocus value={value} placeholder={`${line.value}, with unit; "+-" for its tolerance`}
                   onInput={(e) => setValue(e.currentTarget.value)} />}
      </div>
      <div class="tabs" role="group" aria-label="Where it comes from">
        <button type="button" aria-pressed={source === 'measured'} onClick={() => setSource('measured')}>measured on this car</button>
        <button type="button" aria-pressed={source === 'stated'} onClick={() => setSource('stated')}>stated by card, box or owner</button>
      </div>
      <div aria-live="polite">
        {look && !wrong ? <p class="small muted">{look.sentence}{others.length > 0
          ? ` With it: ${others.slice(0, 4).map((l) => `${l.about} ${l.value}`).join('; ')}${others.length > 4 ? ` and ${others.length - 4} more` : ''}.` : ''}</p> : null}
        <Wrong error={wrong} />
      </div>
      <div class="words">
        <button type="submit" class="filled" disabled={value.trim() === '' || wrong !== null}>Put it on the sheet</button>
        {line.source === 'measured' || line.source === 'stated'
          ? <button type="button" onClick={() => void write(null)}>Not known after all</button> : null}
        <button type="button" class="quiet" onClick={p.close}>Leave it</button>
      </div>
    </form>
  );
}
