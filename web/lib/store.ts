// What every page knows: which job, which page, how it reads, and which row of the journal was seen last.

import {computed, effect, signal} from '@preact/signals';
import {get, inJob, openSession, reachable} from './api.ts';
import type {Job} from './contract.ts';

export const kPages = ['parts', 'supply', 'first-tables', 'key-on', 'drives', 'chart'] as const;
export type Page = (typeof kPages)[number];

/// "2 of 6": which sheet of the set a page is.
export const sheetNumber = (p: Page): string => `${kPages.indexOf(p) + 1} of ${kPages.length}`;

export interface Place {
  job: string | null;
  page: Page;
  rest: string;
}

/// "#/coupe/chart/table" -> coupe, chart, "table".
export function placeOf(hash: string): Place {
  const [job, page, ...rest] = hash.replace(/^#\/?/, '').split('/').map((s) => {
    try {
      return decodeURIComponent(s);
    } catch {
      return s;
    }
  });
  const known = kPages.find((p) => p === page);
  return {job: job ? job : null, page: known ?? 'parts', rest: rest.join('/')};
}

export const hashOf = (job: string, page: Page, rest = ''): string =>
    `#/${encodeURIComponent(job)}/${page}${rest ? `/${rest}` : ''}`;

export const place = signal<Place>(placeOf(location.hash));
addEventListener('hashchange', () => (place.value = placeOf(location.hash)));

export const jobName = computed(() => place.value.job);
export const page = computed(() => place.value.page);

/// The job as it stands, and the journal row that it was read at.
export const job = signal<Job | null>(null);
export const jobProblem = signal<string | null>(null);
/// Goes up whenever the job was changed by anybody; pages ask again for what they show.
export const head = signal(0);
/// Goes up when a job came or went.
export const jobsChanged = signal(0);
/// Progress of long work, by "job/do".
export const progress = signal<Record<string, {share: number | null; says: string; state: string; id: string | number}>>({});

export type Theme = 'light' | 'dark' | 'auto';
const kThemeKey = 'fuelwright-theme', kVacuumKey = 'fuelwright-vacuum';
export const theme = signal<Theme>((kept(kThemeKey) as Theme | null) ?? 'auto');
/// MAP read as vacuum below the air outside.
export const asVacuum = signal(kept(kVacuumKey) === 'yes');

const darkMedia = matchMedia('(prefers-color-scheme: dark)');
const darkSystem = signal(darkMedia.matches);
darkMedia.addEventListener('change', (e) => (darkSystem.value = e.matches));
export const dark = computed(() => theme.value === 'dark' || (theme.value === 'auto' && darkSystem.value));

function kept(key: string): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;  // a browser that keeps nothing
  }
}

export function keep(key: string, value: string): void {
  try {
    localStorage.setItem(key, value);
  } catch {
    // It is only a preference.
  }
}

effect(() => {
  document.documentElement.dataset['theme'] = dark.value ? 'dark' : 'light';
  keep(kThemeKey, theme.value);
});
effect(() => keep(kVacuumKey, asVacuum.value ? 'yes' : 'no'));

/// While the page is laid out for paper: what is folded in is folded out.
export const printing = signal(false);
addEventListener('beforeprint', () => {
  printing.value = true;
  for (const d of document.querySelectorAll<HTMLDetailsElement>('main details:not([open])')) {
    d.open = true;
    d.dataset['folded'] = '';
  }
});
addEventListener('afterprint', () => {
  printing.value = false;
  for (const d of document.querySelectorAll<HTMLDetailsElement>('main details[data-folded]')) {
    d.open = false;
    delete d.dataset['folded'];
  }
});

/// What was typed and not sent yet, kept through a reload of the page.
export function draft<T>(key: string): {read(): T | null; write(value: T | null): void} {
  return {
    read() {
      try {
        const text = sessionStorage.getItem(key);
        return text === null ? null : (JSON.parse(text) as T);
      } catch {
        return null;
      }
    },
    write(value) {
      try {
        if (value === null) sessionStorage.removeItem(key);
        else sessionStorage.setItem(key, JSON.stringify(value));
      } catch {
        // Full or not allowed: it stays on the page.
      }
    },
  };
}

/// Reads the job again. Where its journal is another than when it was read last, everything on the page is asked again, once,
/// however many heard of it: the page that wrote, and the program's event.
export async function readJob(): Promise<void> {
  const name = jobName.peek();
  if (name === null) {
    job.value = null;
    return;
  }
  const ticket = ++tickets;
  try {
    const read = await get<Job>(inJob(name, ''));
    const known = seen.job === name ? seen.head : null;
    if (jobName.peek() !== name || ticket < seen.ticket) return;  // overtaken
    seen = {job: name, head: read.head, ticket};
    job.value = read;
    jobProblem.value = null;
    if (known !== null && read.head !== known) ++head.value;
  } catch (e) {
    if (jobName.peek() !== name) return;
    job.value = null;
    jobProblem.value = e instanceof Error ? e.message : String(e);
  }
}

let tickets = 0, seen: {job: string | null; head: number; ticket: number} = {job: null, head: 0, ticket: 0};

/// After something was written from this page.
export const changed = (): void => void readJob();

/// Listens to the program; comes back by itself after a restart.
export function listen(): void {
  const stream = new EventSource('/api/v1/events');
  let lost = false;
  stream.onopen = () => {
    reachable.value = true;
    if (lost) void openSession().then(() => { ++head.value; return readJob(); }).catch(() => undefined);
    lost = false;
  };
  stream.onerror = () => {
    lost = true;
    reachable.value = false;
    if (stream.readyState === EventSource.CLOSED) setTimeout(listen, 1000);
  };
  stream.addEventListener('work', (e) => {
    const w = JSON.parse((e as MessageEvent<string>).data);
    progress.value = {...progress.value, [`${w.job}/${w.do}`]: {share: w.share, says: w.says, state: w.state, id: w.id}};
  });
  // A job that was merely looked at may be told of too: its journal is as long as it was.
  stream.addEventListener('changed', (e) => {
    const {job: name, journal} = JSON.parse((e as MessageEvent<string>).data) as {job: string; journal: number};
    if (name === jobName.peek() && !(seen.job === name && journal <= seen.head)) void readJob();
  });
  stream.addEventListener('jobs', () => ++jobsChanged.value);
  stream.addEventListener('uploaded', (e) => {
    if (JSON.parse((e as MessageEvent<string>).data).job === jobName.peek()) ++head.value;
  });
}
