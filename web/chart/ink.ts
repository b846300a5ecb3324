// The colours of a drawing, light and dark, as the style sheet has them (style/tokens.css; a test compares both).

export interface Ink {
  paper: string;
  well: string;
  ink: string;
  ink2: string;
  ink3: string;
  rule: string;
  contour: string;
  plan: string;
  danger: string;
  fog: string;
  plus: string;
  minus: string;
  /// Correction, from −6 % (less fuel, ochre) over none to +6 % (more fuel, blue).
  diverging: readonly string[];
  /// Ground that is known, under a wash of nothing.
  ground: string;
}

export const kLight: Ink = {
  paper: '#F9F9F5', well: '#F0F1EC', ink: '#14202C', ink2: '#425060', ink3: '#5F6C78', rule: '#C8CDCB',
  contour: '#855524', plan: '#8E1E6E', danger: '#B0170F', fog: '#5B6873', plus: '#1F6796', minus: '#84570F',
  diverging: ['#BD8633', '#CDA369', '#DCBF98', '#EBDCC7', '#F9F9F5', '#CADFEA', '#9BC4DE', '#6AAAD2', '#308FC5'],
  ground: '#F9F9F5',
};

export const kDark: Ink = {
  paper: '#0B0F13', well: '#141A20', ink: '#F3EFE4', ink2: '#C3C7C6', ink3: '#A5ADB2', rule: '#2C363F',
  contour: '#D3A46A', plan: '#F0A3D4', danger: '#FF8276', fog: '#6F7D87', plus: '#7CBDE8', minus: '#DDB162',
  diverging: ['#AD7B2F', '#805E2C', '#564226', '#2E281E', '#0B0F13', '#162A38', '#1F4861', '#27678D', '#2D89BC'],
  ground: '#1A2229',
};

/// Levels of a surface, lowest first: one straight line in OKLab, told apart by the colour-blind too.
export const kTide = [
  '#16234B', '#2D3B5B', '#46536A', '#606C79', '#7C8688', '#99A097', '#B7BBA5', '#D6D7B4', '#F6F3C2',
] as const;

/// At this correction [share] the wash is at full strength.
export const kFullWash = 0.06;

export type Rgb = [number, number, number];

export function rgb(hex: string): Rgb {
  const n = Number.parseInt(hex.slice(1), 16);
  return [n >> 16, (n >> 8) & 255, n & 255];
}

/// Between the stops of a ramp, t in 0..1.
export function onRamp(stops: readonly Rgb[], t: number): Rgb {
  const at = Math.min(1, Math.max(0, t)) * (stops.length - 1);
  const i = Math.min(stops.length - 2, Math.floor(at)), part = at - i;
  const a = stops[i]!, b = stops[i + 1]!;
  return [a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part, a[2] + (b[2] - a[2]) * part];
}
