// Talks to the program that served this page. One door: get, send, work, upload. What goes wrong is a Refusal with the
// server's own words; a program that does not answer is told apart, so that nothing typed is lost over it.

import {signal} from '@preact/signals';
import type {Problem, Session, Upload, Work} from './contract.ts';

const kBase = '/api/v1';

/// An answer other than the one asked for. `code` is the server's, or 'silent' when nothing answered.
export class Refusal extends Error {
  constructor(readonly problem: Problem, readonly status: number) {
    super(problem.message);
  }
  /// Where and what, as one line for people.
  get line(): string {
    return this.problem.where ? `${this.problem.where}: ${this.problem.message}` : this.problem.message;
  }
}

/// False while the program does not answer.
export const reachable = signal(true);
export const session = signal<Session | null>(null);

function silent(): Refusal {
  reachable.value = false;
  return new Refusal({code: 'silent', where: '', message: 'The program does not answer. It goes on when it is back.'}, 0);
}

/// Says on the document whether anything is being asked: gone when nothing was for a tenth of a second, which is longer than
/// a page takes to ask what hangs on an answer. Tests wait for it.
let asking = 0, quiet = 0;
function flying(by: 1 | -1): void {
  asking += by;
  clearTimeout(quiet);
  if (asking > 0) document.documentElement.dataset['asking'] = '';
  else quiet = setTimeout(() => delete document.documentElement.dataset['asking'], 100);
}

async function ask(path: string, init: RequestInit): Promise<Response> {
  let response: Response;
  flying(1);
  try {
    response = await fetch(kBase + path, init).finally(() => flying(-1));
  } catch (e) {
    if (e instanceof DOMException && e.name === 'AbortError') throw e;
    throw silent();
  }
  reachable.value = true;
  return response;
}

async function refusal(response: Response): Promise<Refusal> {
  const text = await response.text();
  try {
    const body = JSON.parse(text) as {error?: Problem};
    if (body.error) return new Refusal(body.error, response.status);
  } catch {
    // No JSON: said below.
  }
  return new Refusal({code: 'unknown', where: '', message: `The program answered ${response.status} without words.`},
                     response.status);
}

export async function openSession(): Promise<Session> {
  const response = await ask('/session', {});
  if (!response.ok) throw await refusal(response);
  return (session.value = (await response.json()) as Session);
}

export async function get<T>(path: string, stop?: AbortSignal): Promise<T> {
  const response = await ask(path, stop ? {signal: stop} : {});
  if (!response.ok) throw await refusal(response);
  return (await response.json()) as T;
}

/// A text as it is: an exported table.
export async function getText(path: string): Promise<string> {
  const response = await ask(path, {});
  if (!response.ok) throw await refusal(response);
  return response.text();
}

type Method = 'POST' | 'PUT' | 'PATCH' | 'DELETE';

/// Sends JSON; asks for the session again when the token is of an earlier start of the program.
export async function send<T>(method: Method, path: string, body?: unknown): Promise<T> {
  for (let again = false;; again = true) {
    const token = (session.value ?? (await openSession())).token;
    const init: RequestInit = {method, headers: {'X-Fuelwright-Token': token, 'Content-Type': 'application/json'}};
    if (body !== undefined) init.body = JSON.stringify(body);
    const response = await ask(path, init);
    if (response.ok) return (await response.json()) as T;
    const why = await refusal(response);
    if (why.problem.code !== 'token' || again) throw why;
    session.value = null;
  }
}

export const inJob = (job: string, path: string): string => `/jobs/${encodeURIComponent(job)}${path}`;

export interface Running {
  says(work: Work): void;
}

/// Asks something that takes longer and waits for its answer. If the program was restarted meanwhile, asks once more:
/// what had not finished has written nothing.
export async function work<T>(job: string, what: string, body: unknown, on?: Running): Promise<T> {
  for (let again = false;; again = true) {
    try {
      return await workOnce<T>(job, what, body, on);
    } catch (e) {
      const lost = e instanceof Refusal && (e.problem.code === 'not_found_work' || e.problem.code === 'silent');
      if (!lost || again) throw e;
      await backAgain();
    }
  }
}

const WORK = '/long-work';
const kJustBegun = 0.05;  // s

async function workOnce<T>(job: string, what: string, body: unknown, on?: Running): Promise<T> {
  let item = await send<Work<T>>('POST', inJob(job, `/${what}`), body);
  // The same question may be running already, begun before the job was as it is now.
  const begunBefore = item.state === 'running' && item.seconds > kJustBegun;
  while (item.state === 'waiting' || item.state === 'running' || item.state === 'stopping') {
    on?.says(item);
    try {
      item = await get<Work<T>>(`${WORK}/${item.id}?wait=1`);
    } catch (e) {
      if (e instanceof Refusal && e.status === 404) {
        throw new Refusal({code: 'not_found_work', where: '', message: 'The program was started again.'}, 404);
      }
      throw e;
    }
  }
  // What writes nothing is asked again then: it is answered at once if the job has not changed.
  if (begunBefore && (what === 'plan' || what === 'check')) return workOnce(job, what, body, on);
  if (item.state === 'done' && item.reply !== null) return item.reply;
  if (item.error) throw new Refusal(item.error, item.status ?? 0);
  throw new Refusal({code: 'cancelled', where: '', message: 'It was stopped before it was done; nothing was written.'}, 409);
}

export async function stopWork(id: string | number): Promise<void> {
  await send('DELETE', `${WORK}/${id}`);
}

/// Resolves when the program answers again.
export async function backAgain(): Promise<void> {
  for (;;) {
    try {
      await openSession();
      return;
    } catch {
      await new Promise((go) => setTimeout(go, 500));
    }
  }
}

/// Sends a file as it is; `share` tells how far it is. Larger than the program takes is said before a byte is sent.
export async function upload(job: string, file: File, share: (done: number) => void): Promise<Upload> {
  const limit = (session.value ?? (await openSession())).largest_upload;
  if (file.size > limit) {
    const mb = (n: number): string => `${Math.ceil(n / 1048576)} MB`;
    throw new Refusal(
        {code: 'too_large', where: file.name, message: `${mb(file.size)} came, at most ${mb(limit)} can be taken.`}, 413);
  }
  const path = inJob(job, `/uploads?name=${encodeURIComponent(file.name)}`);
  for (let again = false;; again = true) {
    const token = (session.value ?? (await openSession())).token;
    try {
      return await uploadOnce(path, token, file, share);
    } catch (e) {
      const old = e instanceof Refusal && e.problem.code === 'token';
      if (!old || again) throw e;
      session.value = null;
    }
  }
}

function uploadOnce(path: string, token: string, file: File, share: (done: number) => void): Promise<Upload> {
  return new Promise((done, fail) => {
    const request = new XMLHttpRequest();  // fetch() tells no progress of what is sent
    request.open('POST', kBase + path);
    request.setRequestHeader('X-Fuelwright-Token', token);
    request.setRequestHeader('Content-Type', 'application/octet-stream');
    request.upload.onprogress = (e) => share(e.total > 0 ? e.loaded / e.total : 0);
    request.onerror = () => fail(silent());
    request.onload = () => {
      reachable.value = true;
      let body: unknown;
      try {
        body = JSON.parse(request.responseText);
      } catch {
        body = null;
      }
      if (request.status < 300) return done(body as Upload);
      const problem = (body as {error?: Problem} | null)?.error;
      fail(new Refusal(problem ?? {code: 'unknown', where: file.name, message: `The program answered ${request.status}.`},
                       request.status));
    };
    request.send(file);
  });
}
