// Chart: how sure is the table, where is it a guess, what would change, where to drive next.

import './chart.css';
import type {JSX} from 'preact';
import {useEffect, useMemo, useRef, useState} from 'preact/hooks';
import {firstSection, sceneOf, type Showing} from '../../chart/from_reply.ts';
import type {Scene} from '../../chart/scene.ts';
import {get, inJob, Refusal, work} from '../../lib/api.ts';
import type {Chart, Estimate, Plan, Proposal, Track} from '../../lib/contract.ts';
import {asVacuum, draft, hashOf, changed, job as jobNow, place, sheetNumber} from '../../lib/store.ts';
import {AtWork, atHead, Sentence, TitleBlock, useAsked, Wrong} from '../../view/pieces.tsx';
import {AmendSide} from './amend.tsx';
import {readPasted} from './clipboard.ts';
import {BringInDialog, CompareDialog, ExportDialog, lookAtTable} from './dialogs.tsx';
import {Edits, type Range} from './edits.ts';
import {ChartFigures} from './figures.tsx';
import {Legend} from './legend.tsx';
import {SectionView} from './section_view.tsx';
import {NextDrive, Proposed} from './side.tsx';
import {SurfaceView} from './surface_view.tsx';
import {Table, type View} from './table.tsx';
import {Terrain} from './terrain.tsx';

type Look = 'chart' | 'table' | 'surface';

export const tableName = (t: string): string => (t === 've' ? 'VE' : t.replaceAll('_', ' '));

interface Draft {
  revision: number;
  nodes: [number, number][];
}

export function ChartPage(p: {job: string}): JSX.Element {
  const look = (['table', 'surface'] as const).find((l) => place.value.rest === l) ?? 'chart';
  const chart = useAsked(atHead(`${p.job}/chart`), (s) => get<Chart>(inJob(p.job, '/chart'), s));
  const track = useAsked(chart.value ? atHead(`${p.job}/track`) : null, (s) => get<Track>(inJob(p.job, '/chart/track?points=6000'), s));
  const waits = chart.value?.proposal ?? null;
  const proposal = useAsked(waits !== null ? atHead(`${p.job}/proposal`) : null, (s) => get<Proposal>(inJob(p.job, '/proposal'), s));
  const driven = chart.value?.basis === 'driving';
  const plan = useAsked(driven ? atHead(`${p.job}/plan`) : null, () => work<Plan>(p.job, 'plan', {}));
  const [estimate, setEstimate] = useState<Estimate | null>(null);
  const [estimating, setEstimating] = useState(false);
  const [wrong, setWrong] = useState<Refusal | null>(null);
  const [said, setSaid] = useState('');
  const runEstimate = async (): Promise<void> => {
    setEstimating(true);
    setWrong(null);
    setSaid('');
    try {
      setEstimate(await work<Estimate>(p.job, 'estimate', {}));
    } catch (e) {
      if (e instanceof Refusal) setWrong(e);
    }
    setEstimating(false);
    changed();
  };
  const c = chart.value;
  const recordings = jobNow.value?.recordings.length ?? 0;
  const nothing = chart.error?.status === 404;
  const needs = recordings > 0 && (nothing || (c !== null && (c.basis !== 'driving' || c.stale.length > 0)));
  const drives = (
    <>
      {c && !nothing ? c.stale.map((w) => <p key={w} class="note small">{w}</p>) : null}
      {needs || estimating ? (
        <section>
          <h2>{c && !nothing && c.basis === 'driving' ? 'Something new came' : 'Drives are there'}</h2>
          {estimating ? <AtWork job={p.job} what="estimate" says="Explaining every moment driven" /> : (
            <p><button class={proposal.value ? '' : 'filled'} onClick={() => void runEstimate()}>Work out what they prove</button></p>
          )}
        </section>
      ) : null}
      <Wrong error={wrong} />
    </>
  );
  return (
    <main tabIndex={-1} class="chart-page">
      <Sentence under={c ? <Under chart={c} look={look} job={p.job} recordings={recordings} /> : null}>{c && !nothing ? c.sentence : nothing ? (jobNow.value?.sentence ?? null) : null}</Sentence>
      {nothing ? null : <Wrong error={chart.error} again={chart.again} />}
      {c && !nothing && c.x.points_si.length > 0 && (c.in_force ?? c.estimate)
        ? <Body {...p} chart={c} look={look} track={track.value} plan={plan} proposal={waits !== null ? proposal.value : null}
                estimate={estimate} said={said} setSaid={setSaid} side={drives} />
        : c || nothing ? (
          <div class="block nothing-yet">
            <p class="muted">{chart.error?.problem.message}</p>
            {drives}
            <p><a href={hashOf(p.job, 'first-tables')}>Compute the first tables</a> from the parts
              {recordings === 0 ? <>, or <a href={hashOf(p.job, 'drives')}>add a recording</a></> : null}.</p>
          </div>
        ) : null}
    </main>
  );
}

function Under(p: {chart: Chart; look: Look; job: string; recordings: number}): JSX.Element {
  const c = p.chart;
  const basis = c.basis === 'driving' ? (c.correction ? `correction against revision ${c.revision}` : 'from driving; no table to correct yet') :
      c.basis === 'parts' ? 'computed from the parts, nothing driven' : 'the table alone, nothing known about it';
  return (
    <div class="under-chart">
      <span>{tableName(c.table)}, {c.unit} · {basis} · {p.recordings === 1 ? 'one recording' : `${p.recordings} recordings`} ·
        {' '}± is 95 %</span>
      <nav class="tabs no-print" aria-label="Seen as">
        {(['chart', 'table', 'surface'] as const).map((l) => (
          <a key={l} href={hashOf(p.job, 'chart', l === 'chart' ? '' : l)} {...(p.look === l ? {'aria-current': 'true' as const} : {})}>
            {l === 'chart' ? 'Chart' : l === 'table' ? 'Table' : 'Surface'}</a>
        ))}
      </nav>
    </div>
  );
}

function Body(p: {
  job: string; chart: Chart; look: Look; track: Track | null; plan: ReturnType<typeof useAsked<Plan>>;
  proposal: Proposal | null; estimate: Estimate | null; side: JSX.Element; said: string; setSaid(s: string): void;
}): JSX.Element {
  const {chart} = p;
  const [node, setNode] = useState<number | null>(null);
  const [line, setLine] = useState<Scene['section']>(null);
  const [showing, setShowing] = useState<Showing>('evidence');
  const [dialog, setDialog] = useState<'compare' | 'export' | 'paste' | null>(null);
  const section = line ?? firstSection(chart);
  const scene = useMemo(() => sceneOf(chart, {track: p.track, plan: p.plan.value, section: p.look === 'chart' ? section : null,
                                              cursor: null, vacuum: asVacuum.value, showing}),
                        [chart, p.track, p.plan.value, line, asVacuum.value, showing, p.look]);
  const figures = useMemo(() => <ChartFigures chart={chart} scene={scene} name={tableName(chart.table)} />, [chart, asVacuum.value]);
  const hand = useHand(p.job, chart);
  const base = chart.in_force ?? chart.estimate!;
  const values = useMemo(() => base.map((v) => v * chart.factor), [chart]);
  const digits = chart.table === 'lambda_target' ? 3 : 1;
  const take = async (text: string): Promise<string | null> => {
    const got = readPasted(text);
    if (got.kind === 'nothing') return 'The clipboard holds no figures.';
    if (got.kind === 'block') {
      const r = hand.range;
      const set = hand.edits.paste(Math.min(r.i0, r.i1), Math.max(r.j0, r.j1), got.rows.map((row) =>
          row.map((v) => (v === null ? null : v / chart.factor))));
      hand.bump();
      p.setSaid(`${set} nodes were pasted.`);
      return null;
    }
    try {
      const b = await lookAtTable(p.job, text, chart.table);
      const t = b.tables.find((one) => one.table === chart.table) ?? b.tables[0];
      if (!t?.after || t.after.length !== base.length) return b.sentence;
      hand.edits.change((v) => t.after!.forEach((a, k) => {
        if (a !== t.before?.[k]) v[k] = a;
      }));
      hand.bump();
      p.setSaid(`${b.sentence} ${t.understood}`);
      return null;
    } catch (e) {
      return e instanceof Refusal ? e.line : String(e);
    }
  };
  const words = (
    <div class="words no-print">
      <a class="button" href={hashOf(p.job, 'chart', 'table')}>Amend</a>
      <button onClick={() => setDialog('compare')} aria-haspopup="dialog">Compare</button>
      <button onClick={() => setDialog('export')} aria-haspopup="dialog">Export</button>
    </div>
  );
  const block = <TitleBlock cells={[['In force', `Revision ${chart.revision}`],
                                    ['Proposal', p.proposal ? String(p.proposal.proposal) : 'none'],
                                    ['Sheet', sheetNumber('chart')]]} />;
  return (
    <div class={`two${p.look === 'table' ? ' table-look' : ''}`}>
      <div>
        {p.look === 'chart' ? (
          <>
            <Terrain scene={scene} chart={chart} height={430} node={node} setNode={setNode}
                     setSection={(l) => setLine(l)} label={`${tableName(chart.table)} over engine speed and load: ${chart.sentence}`} />
            <SectionView job={p.job} chart={chart} scene={scene} line={section} node={node} />
            <Legend scene={scene} name={`${tableName(chart.table)}, ${chart.unit}`} />
            {figures}
          </>
        ) : p.look === 'table' ? (
          <TableLook chart={chart} scene={scene} hand={hand} digits={digits}
                     pasted={(t) => void take(t).then((w) => { if (w !== null) p.setSaid(w); })} />
        ) : (
          <>
            <SurfaceView scene={scene} values={values} name={tableName(chart.table)} unit={chart.unit} height={560} />
            <p class="label">Colour is the level, hatch is what is not known. Drag it, or use the arrow keys.</p>
          </>
        )}
      </div>
      <div class="side-words">
        {p.side}
        {p.said ? <p class="note" role="status">{p.said}</p> : null}
        {p.look === 'table' ? (
          <AmendSide job={p.job} chart={chart} scene={scene} edits={hand.edits} version={hand.version} range={hand.range}
                     digits={digits} changed={hand.bump} openPaste={() => setDialog('paste')}
                     kept={(s) => { hand.clear(); p.setSaid(s); }} />
        ) : (
          <>
            {chart.basis === 'driving' ? <NextDrive job={p.job} plan={p.plan} /> : null}
            {chart.basis === 'driving' && scene.correction && chart.proposed && chart.change ? (
              <div class="tabs no-print" role="group" aria-label="The wash shows">
                <span class="label">Wash:</span>
                <button aria-pressed={showing === 'evidence'} onClick={() => setShowing('evidence')}>what driving says</button>
                <button aria-pressed={showing === 'proposal'} onClick={() => setShowing('proposal')}>what is proposed</button>
              </div>
            ) : null}
            <Proposed job={p.job} chart={chart} proposal={p.proposal} estimate={p.estimate} accepted={p.setSaid} />
          </>
        )}
        {words}
        {block}
      </div>
      {dialog === 'compare' ? <CompareDialog job={p.job} revisions={jobNow.value?.revisions ?? []} close={() => setDialog(null)} /> : null}
      {dialog === 'export' ? <ExportDialog job={p.job} table={chart.table} revision={chart.revision} close={() => setDialog(null)} /> : null}
      {dialog === 'paste' ? <BringInDialog job={p.job} table={chart.table} take={take} close={() => setDialog(null)} /> : null}
    </div>
  );
}

interface Hand {
  edits: Edits;
  version: number;
  range: Range;
  setRange(r: Range): void;
  bump(): void;
  clear(): void;
}

/// The amendments under way: kept through a reload, a restart of the program and a revision that came in force meanwhile.
function useHand(job: string, chart: Chart): Hand {
  const kept = draft<Draft>(`amend/${job}/${chart.table}`);
  const key = `${chart.revision}/${chart.x.points_si.length}/${chart.y.points_si.length}`;
  const edits = useRef<{key: string; edits: Edits} | null>(null);
  const [version, setVersion] = useState(0);
  const [range, setRange] = useState<Range>({i0: 0, j0: chart.y.points_si.length - 1, i1: 0, j1: chart.y.points_si.length - 1});
  // An estimate may move without a new revision.
  const base = chart.in_force ?? chart.estimate!;
  if (edits.current?.key !== key || base.some((v, k) => v !== edits.current!.edits.base[k])) {
    const e = new Edits(chart.x.points_si, chart.y.points_si, base);
    const before = kept.read();
    if (before) e.change((v) => before.nodes.forEach(([k, value]) => { if (k < v.length) v[k] = value; }));
    edits.current = {key, edits: e};
  }
  const e = edits.current.edits;
  const write = (): void => {
    const changed = e.changed();
    kept.write(changed.length === 0 ? null : {revision: chart.revision, nodes: changed.map((k) => [k, e.values[k]!])});
  };
  useEffect(write, [version, key]);
  return {
    edits: e, version, range, setRange,
    bump: () => { write(); setVersion((n) => n + 1); },
    clear: () => {
      kept.write(null);
      edits.current = {key, edits: new Edits(e.x, e.y, Array.from(e.values))};
      setVersion((n) => n + 1);
    },
  };
}

function TableLook(p: {chart: Chart; scene: Scene; hand: Hand; digits: number; pasted(t: string): void}): JSX.Element {
  const [view, setView] = useState<View>('value');
  const c = p.chart, name = `${tableName(c.table)}, ${c.unit}`;
  const views = ([['value', name], ['estimate', 'Estimate'], ['correction', 'Correction, %'], ['half width', '±, %'],
                  ['seconds', 'Seconds driven']] as [View, string][])
      .filter(([v]) => v === 'value' || (v === 'estimate' ? c.in_force : v === 'correction' ? c.correction : true) && c.estimate);
  return (
    <>
      <div class="tabs no-print" role="group" aria-label="Figures shown">
        {views.map(([v, name]) => <button key={v} aria-pressed={view === v} onClick={() => setView(v)}>{name}</button>)}
      </div>
      <Table chart={p.chart} scene={p.scene} edits={p.hand.edits} version={p.hand.version} view={view} range={p.hand.range}
             setRange={p.hand.setRange} changed={p.hand.bump} pasted={p.pasted} digits={p.digits} />
      {p.chart.mark ? (
        <ul class="legend marks">
          <li class="one"><i class="mark measured" aria-hidden="true" /><strong>measured: driven there</strong></li>
          <li class="one"><i class="mark inferred" aria-hidden="true" /><span>inferred from neighbours and the engine model</span></li>
          <li class="one"><i class="mark prior" aria-hidden="true" /><span class="guess">prior only: a guess</span></li>
        </ul>
      ) : null}
      <p class="small muted">Type to set, F2 to change, Shift to extend, Delete for what is in force; copy, paste and undo as in a spreadsheet.</p>
    </>
  );
}
