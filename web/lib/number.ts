// Figures as they are read: thousands with a comma, a true minus, never more digits than they are worth.

const kMinus = '\u2212';

/// 4300 -> "4,300"; -2.61, 1 -> "−2.6".
export function figure(value: number, digits = 0): string {
  if (!Number.isFinite(value)) return '–';
  const [whole, rest] = Math.abs(value).toFixed(digits).split('.') as [string, string | undefined];
  const grouped = whole.replace(/\B(?=(\d{3})+(?!\d))/g, ',');
  const text = rest === undefined ? grouped : `${grouped}.${rest}`;
  return value < 0 && Number(text.replaceAll(',', '')) !== 0 ? kMinus + text : text;
}

/// With its sign: "+3.1", "−0.4", "0.0".
export function signed(value: number, digits = 1): string {
  const text = figure(value, digits);
  return value > 0 && Number(text.replaceAll(',', '')) !== 0 ? `+${text}` : text;
}

/// What a person types: "1,234.5", "-3", "−3", "12,5". Null if it is no number.
export function parseFigure(text: string): number | null {
  let t = text.trim().replaceAll(kMinus, '-').replace(/[\s\u00a0]/g, '').replace(/%$/, '');
  const comma = t.lastIndexOf(','), point = t.lastIndexOf('.');
  if (comma >= 0 && point >= 0) {
    t = comma > point ? t.replaceAll('.', '').replace(',', '.') : t.replaceAll(',', '');
  } else if (comma >= 0) {
    // "1,234" groups thousands; "12,5" is a decimal comma.
    t = /^[+-]?\d{1,3}(,\d{3})+$/.test(t) ? t.replaceAll(',', '') : t.replace(',', '.');
  }
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(t)) return null;
  const value = Number(t);
  return Number.isFinite(value) ? value : null;
}

/// Digits after the point for a scale or a table of values in a unit: three figures that count.
export function digitsFor(span: number): number {
  const size = Math.abs(span);
  if (!(size > 0)) return 1;
  return Math.max(0, Math.min(4, 2 - Math.floor(Math.log10(size))));
}

/// 3:35 min:s; below a minute "12 s"; an hour and more 1:02:03.
export function clock(seconds: number): string {
  const s = Math.round(seconds), two = (n: number): string => String(n).padStart(2, '0');
  if (s >= 3600) return `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
  return `${Math.floor(s / 60)}:${two(s % 60)}`;
}

/// How long, in words: "41 s", "1 min 30 s", "32 min".
export function howLong(seconds: number): string {
  const s = Math.round(seconds);
  if (s < 60) return `${s} s`;
  if (s >= 600 || s % 60 === 0) return `${Math.round(s / 60)} min`;
  return `${Math.floor(s / 60)} min ${s % 60} s`;
}

/// A round step so that about `wanted` of them lie in the span: 1, 2 or 5 times a power of ten.
export function roundStep(span: number, wanted: number): number {
  const raw = span / Math.max(1, wanted);
  const power = 10 ** Math.floor(Math.log10(raw));
  const lead = raw / power;
  return (lead <= 1.0001 ? 1 : lead <= 2.0001 ? 2 : lead <= 5.0001 ? 5 : 10) * power;
}

/// Round values within [low, high].
export function roundTicks(low: number, high: number, wanted: number): number[] {
  if (!(high > low)) return [];
  const step = roundStep(high - low, wanted), out: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; ++k) out.push(k * step);
  return out;
}
