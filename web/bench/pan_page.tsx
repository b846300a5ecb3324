// The page side of pan.mjs: the view of a recording itself, over answers as the program gives them.
import {render} from 'preact';
import type {Channel, Masks, Recording, Traces} from '../lib/contract.ts';
import {TracesView} from '../pages/drives/traces_view.tsx';

const kRows = 1e6, kSeconds = 1e4;
const kQuantities = ['lambda', 'rpm', 'map', 'target', 'throttle', 'coolant', 'pulse_width', 'battery'];
const wave = (c: number, t: number): number => Math.sin(t / (9 + c)) + 0.2 * Math.sin(t * (3 + c)) + 0.1 * Math.sin(t * 12.9898 * (c + 1));

const channels: Channel[] = kQuantities.map((quantity, column) => ({
  column, header: quantity, quantity, label: quantity, kind: '', unit: '', bank: 1, confidence: 1, reason: '',
  low: column % 3 === 0 ? 0.7 : -1.3, high: 1.3, shown: {unit: '', factor: 1, offset: 0},
}));
const recording: Recording = {id: 1, name: 'bench.csv', rows: kRows, timed: true, seconds: kSeconds, pace: '', simultaneity: '', driven_with: null,
                              channels, segments: [{label: '1', from_s: 0, to_s: kSeconds}], warnings: []};
const masks: Masks = {id: 1, timed: true, refused: null, masks: [
  {sensor: 'row', bank: 1, why: 'engine not warm', spans: [[0, 900]]},
  {sensor: 'row', bank: 1, why: 'fuel cut off', spans: Array.from({length: 60}, (_, k) => [k * 160 + 30, k * 160 + 40] as [number, number])},
]};

/// Least and greatest of every column of the screen.
function traces(url: URL): Traces {
  const q = url.searchParams, from = Number(q.get('from') ?? 0), to = Number(q.get('to') ?? kSeconds), points = Number(q.get('points') ?? 1000);
  const step = (to - from) / points, x = Array.from({length: points}, (_, k) => from + k * step);
  return {id: 1, timed: true, from, to, raw: false, step, rows: Math.round((to - from) / kSeconds * kRows), x,
          channels: (q.get('channels') ?? '1').split(',').map(Number).map((column) => {
            const c = channels[column]!, all = x.map((t) => Array.from({length: 4}, (_, k) => (column % 3 === 0 ? 1 : 0) + 0.25 * wave(column, t + k * step / 4)));
            return {column, header: c.header, quantity: c.quantity, bank: 1, low: all.map((v) => Math.min(...v)), high: all.map((v) => Math.max(...v)),
                    first: all.map((v) => v[0]!), last: all.map((v) => v[3]!)};
          })};
}
globalThis.fetch = (input) => Promise.resolve(new Response(JSON.stringify(traces(new URL(String(input), 'http://pan.local')))));

const app = document.getElementById('app')!;
app.style.width = '906px';
const frame = (): Promise<void> => new Promise((go) => requestAnimationFrame(() => go()));
const quiet = async (): Promise<void> => { for (let k = 0; k < 30; ++k) await frame(); };

async function pan(strips: number, frames: number): Promise<void> {
  if (app.dataset['strips'] !== String(strips)) {
    app.dataset['strips'] = String(strips);
    render(null, app);
    render(<TracesView job="bench" recording={recording} masks={masks} letters={[{letter: 'a', at: 5000, sensor: 'lambda'}]} />, app);
    await quiet();
    const boxes = [...app.querySelectorAll<HTMLInputElement>('.checks input')];
    for (let k = 0; k < strips; ++k) {
      if (!boxes[k]!.checked) boxes[k]!.click();
      await frame();
    }
    const hold = app.querySelector<HTMLElement>('.strips')!;
    for (let k = 0; k < 5; ++k) {
      hold.dispatchEvent(new KeyboardEvent('keydown', {key: '+', bubbles: true}));
      await frame();
    }
    await quiet();
    if (app.querySelectorAll('.strip').length !== strips) throw new Error(`${app.querySelectorAll('.strip').length} strips are there, expected ${strips}`);
  }
  const hold = app.querySelector<HTMLElement>('.strips')!;
  const point = (type: string, x: number): boolean => hold.dispatchEvent(new PointerEvent(type, {clientX: x, clientY: 200, pointerId: 1, button: 0, bubbles: true}));
  const before = hold.getAttribute('aria-label');
  point('pointerdown', 500);
  for (let k = 0; k < frames; ++k) {
    point('pointermove', 500 + 240 * Math.sin(k / 15));  // back and forth, within what is held
    await frame();
  }
  if (hold.getAttribute('aria-label') === before) throw new Error('nothing was panned');
  point('pointerup', 500);
}

(globalThis as unknown as {bench: object}).bench = {three: (n: number) => pan(3, n), eight: (n: number) => pan(8, n)};
