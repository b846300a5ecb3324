// Figures as people write and read them.
import {describe, expect, it} from 'vitest';
import {clock, digitsFor, figure, howLong, parseFigure, roundTicks, signed} from '../lib/number.ts';
import {shownAs, toShown, toSi} from '../lib/units.ts';

describe('a figure', () => {
  it('has commas in its thousands and a true minus', () => {
    expect(figure(4300)).toBe('4,300');
    expect(figure(1234567.891, 1)).toBe('1,234,567.9');
    expect(figure(-2.61, 1)).toBe('−2.6');
    expect(figure(-0.01, 1)).toBe('0.0');
    expect(figure(Number.NaN)).toBe('–');
  });
  it('carries its sign where it is a correction', () => {
    expect(signed(3.14)).toBe('+3.1');
    expect(signed(0.02)).toBe('0.0');
    expect(signed(-4.56)).toBe('−4.6');
  });
  it('is read back as it was written, with comma or point', () => {
    for (const v of [0, 82.5, -3.25, 4300, 1234567]) expect(parseFigure(figure(v, 2))).toBeCloseTo(v, 10);
    expect(parseFigure('12,5')).toBe(12.5);
    expect(parseFigure('1.234,5')).toBe(1234.5);
    expect(parseFigure('85 %')).toBe(85);
    expect(parseFigure('')).toBeNull();
    expect(parseFigure('abc')).toBeNull();
    expect(parseFigure('1e999')).toBeNull();
  });
  it('has as many digits as count', () => {
    expect(digitsFor(0.9)).toBe(3);
    expect(digitsFor(9)).toBe(2);
    expect(digitsFor(90)).toBe(1);
    expect(digitsFor(900)).toBe(0);
  });
  it('tells a time as a clock and as a span', () => {
    expect(clock(215)).toBe('3:35');
    expect(clock(3723)).toBe('1:02:03');
    expect(howLong(41)).toBe('41 s');
    expect(howLong(90)).toBe('1 min 30 s');
    expect(howLong(1935)).toBe('32 min');
  });
  it('stands at round values on a scale', () => {
    expect(roundTicks(520, 6200, 6)).toEqual([1000, 2000, 3000, 4000, 5000, 6000]);
  });
});

describe('a unit', () => {
  // NIST Special Publication 811 (2008), appendix B.8, from memory: 1 psi = 6.894757 kPa, 1 lbf ft = 1.355818 N m,
  // 1 hp (550 ft lbf/s) = 745.6999 W, 1 inHg (0 degC) = 3.38638 kPa, 1 lb/h = 1.259979e-4 kg/s, 1 mph = 0.44704 m/s.
  const checks: [Parameters<typeof shownAs>[0], number, number][] = [
    ['pressure', 6894.757, 1], ['torque', 1.355818, 1], ['power', 745.6999, 1], ['vacuum', 3386.38, 1],
    ['mass_flow', 1.259979e-4, 1], ['speed', 0.44704, 1], ['temperature', 310.9278, 100], ['volume_flow', 1.051503e-6, 1],
  ];
  it.each(checks)('%s is what the standard says', (kind, si, us) => {
    expect(toShown(si, shownAs(kind, 'us'))).toBeCloseTo(us, 3);
    expect(toSi(us, shownAs(kind, 'us'))).toBeCloseTo(si, 1);
  });
});
