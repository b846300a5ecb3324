// How a channel is read: in the unit that the program names, with three figures that count.

import type {Channel} from '../../lib/contract.ts';
import {digitsFor} from '../../lib/number.ts';
import type {Shown} from '../../lib/units.ts';

const kMixtures = ['lambda', 'target', 'commanded_ratio'];

export function shownOf(c: Pick<Channel, 'quantity' | 'shown' | 'low' | 'high'>): Shown {
  const s = {...c.shown, unit: c.shown.unit.replace(/^deg([CF])$/, '°$1')};
  if (kMixtures.includes(c.quantity)) s.unit = 'λ';
  return {...s, digits: digitsFor(((c.high ?? 1) - (c.low ?? 0)) * s.factor)};
}

/// The channels shown first: mixture with its target, engine speed, manifold pressure; the first bank of each.
export function firstShown(channels: readonly Channel[]): number[] {
  const pick = (q: string): number | undefined => channels.find((c) => c.quantity === q)?.column;
  const usual = [pick('lambda'), pick('rpm'), pick('map') ?? pick('throttle') ?? pick('maf')].filter((c): c is number => c !== undefined);
  if (usual.length > 0) return usual;
  return channels.filter((c) => !['time', 'run_time'].includes(c.quantity)).slice(0, 3).map((c) => c.column);
}

export const targetOf = (channels: readonly Channel[]): number | null =>
    channels.find((c) => c.quantity === 'target' || c.quantity === 'commanded_ratio')?.column ?? null;
