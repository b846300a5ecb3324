// The units in which a person reads what comes in SI. Shown = SI * factor + offset. Factors are exact by definition
// (NIST SP 811, appendix B, from memory), except inHg, which is conventional.

import type {Units} from './contract.ts';

export interface Shown {
  unit: string;
  factor: number;
  offset: number;
  digits: number;
}

const kPoundForceFoot = 1.3558179483314004;  // N m
const kHorsepower = 745.6998715822702;       // W: 550 ft lbf/s
const kInHg = 3386.389;                      // Pa, at 0 degC
const kPsi = 6894.757293168361;              // Pa
const kPoundPerHour = 0.45359237 / 3600;     // kg/s
const kMilePerHour = 0.44704;                // m/s
const kGallonPerHour = 3.785411784e-3 / 3600;  // m3/s

type Kind =
    'speed_of_engine'|'map'|'vacuum'|'pressure'|'torque'|'power'|'mass_flow'|'temperature'|'speed'|'share'|'volume_flow';

const kTable: Record<Kind, Record<Units, Shown>> = {
  speed_of_engine: both('rpm', 1, 0),
  map: both('kPa', 1e-3, 0),
  vacuum: {metric: shown('kPa', 1e-3, 0), us: shown('inHg', 1 / kInHg, 1)},
  pressure: {metric: shown('kPa', 1e-3, 0), us: shown('psi', 1 / kPsi, 1)},
  torque: {metric: shown('Nm', 1, 0), us: shown('lb ft', 1 / kPoundForceFoot, 0)},
  power: {metric: shown('kW', 1e-3, 0), us: shown('hp', 1 / kHorsepower, 0)},
  mass_flow: {metric: shown('g/s', 1e3, 1), us: shown('lb/h', 1 / kPoundPerHour, 0)},
  volume_flow: {metric: shown('l/h', 3.6e6, 0), us: shown('gal/h', 1 / kGallonPerHour, 1)},
  temperature: {metric: shown('°C', 1, 0, -273.15), us: shown('°F', 1.8, 0, -459.67)},
  speed: {metric: shown('km/h', 3.6, 0), us: shown('mph', 1 / kMilePerHour, 0)},
  share: both('%', 100, 1),
};

function shown(unit: string, factor: number, digits: number, offset = 0): Shown {
  return {unit, factor, offset, digits};
}

function both(unit: string, factor: number, digits: number): Record<Units, Shown> {
  return {us: shown(unit, factor, digits), metric: shown(unit, factor, digits)};
}

export const shownAs = (kind: Kind, units: Units): Shown => kTable[kind][units];

export const toShown = (si: number, s: Shown): number => si * s.factor + s.offset;
export const toSi = (value: number, s: Shown): number => (value - s.offset) / s.factor;

/// Manifold pressure read as the depression below the air outside, as a gauge on the dash does.
export const vacuumOf = (map: number, ambient: number): number => Math.max(0, ambient - map);

/// The unit of an axis of a table.
export function axisShown(kind: string, units: Units): Shown {
  switch (kind) {
    case 'engine_speed': return shownAs('speed_of_engine', units);
    case 'vacuum': return shownAs('vacuum', units);
    case 'throttle': return shown('%', 100, 0);
    case 'coolant': case 'intake_air': case 'temperature': return shownAs('temperature', units);
    case 'voltage': return shown('V', 1, 1);
    default: return shownAs('map', units);
  }
}
