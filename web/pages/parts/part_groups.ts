// How the lines of a sheet are grouped on the page and which balloon of the drawing they belong to.

import type {Line, Source} from '../../lib/contract.ts';

export interface Group {
  title: string;
  sections: readonly string[];
  balloon: number | null;
  /// Words of a measurement that tells about this group.
  told: RegExp | null;
  drawn: boolean;
}

export const kGroups: readonly Group[] = [
  {title: 'Cylinder', sections: ['engine'], balloon: 1, told: /bore|stroke|compression|chamber|burette/i, drawn: true},
  {title: 'Heads', sections: ['heads'], balloon: 3, told: /head|valve/i, drawn: true},
  {title: 'Cam', sections: ['cam'], balloon: 4, told: /cam\b|lash|lobe/i, drawn: true},
  {title: 'Intake', sections: ['intake'], balloon: 5, told: /runner|plenum|intake|throttle bod/i, drawn: true},
  {title: 'Exhaust', sections: ['exhaust'], balloon: 6, told: /exhaust|primar|collector|header/i, drawn: true},
  {title: 'Injection', sections: ['injection'], balloon: 7, told: /injector|dead time/i, drawn: true},
  {title: 'Fuel supply', sections: ['supply'], balloon: null, told: /pump|filter|wiring/i, drawn: false},
  {title: 'Fuel and spark', sections: ['fuel', 'ignition'], balloon: null, told: null, drawn: false},
  {title: 'Sensors', sections: ['sensors'], balloon: null, told: null, drawn: false},
  {title: 'Car and place', sections: ['car', 'place'], balloon: null, told: null, drawn: false},
  {title: 'Wishes', sections: ['wishes'], balloon: null, told: null, drawn: false},
];

export const linesOf = (g: Group, sheet: readonly Line[]): Line[] =>
    sheet.filter((l) => g.sections.some((s) => l.section === s || l.section.startsWith(`${s}.`)));

/// The piston and rod carry their own number.
export function balloonOf(l: Line): number | null {
  if (l.section === 'engine' && (l.key === 'compression' || l.key === 'rod_length')) return 2;
  return kGroups.find((g) => g.sections.includes(l.section.split('.')[0]!))?.balloon ?? null;
}

/// Guessed if any part of it that has a spread is; known only if all of it is measured.
export function worst(lines: readonly (Line | undefined)[]): Source {
  const there = lines.filter((l): l is Line => l !== undefined);
  if (there.length === 0 || there.some((l) => l.source === 'typical')) return 'typical';
  if (there.some((l) => l.source === 'stated')) return 'stated';
  return 'measured';
}
