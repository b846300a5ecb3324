/// What docs/http.md says of recordings and their checks, as types.
import type {Units} from './contract';

export interface Question {
  header: string;
  unclear: string;
  options: {give: string; means: string; answer: Answers}[];
}

export interface Answers {
  channels?: Record<string, {quantity?: string; unit?: string}>;
  afr_constant?: number;
  rate?: string;
  ambient?: string;
  unordered?: boolean;
}

export interface Guess {
  header: string;
  quantity: string;
  unit_found: string;
  unit: string;
  bank: number;
  confidence: number;
  constant: string | number | null;
  answered: boolean;
  reason: string;
}

export interface Upload {
  upload: string;
  job: string;
  name: string;
  bytes: number;
  when: string;
  readable: boolean;
  problem: string | null;
  kind: string | null;
  rows: number | null;
  columns: Guess[] | null;
  questions: Question[] | null;
  kept_answers?: string;
  warnings: string[] | null;
}

export interface Added {
  sentence: string;
  id: number;
  name: string;
  rows: number;
  seconds: number | null;
  teaches: string[];
  warnings: string[];
}

export interface Channel {
  column: number;
  header: string;
  quantity: string;
  label: string;
  kind: string;
  unit: string;
  bank: number;
  confidence: number;
  reason: string;
  low: number | null;
  high: number | null;
  /// Shown = SI * factor + offset, in the job's units.
  shown: {unit: string; factor: number; offset: number};
}

export interface Recording {
  id: number;
  name: string;
  rows: number;
  timed: boolean;
  seconds: number | null;
  pace: string;
  simultaneity: string;
  driven_with: number | null;
  channels: Channel[];
  segments: {label: string; from_s: number; to_s: number}[];
  warnings: string[];
}

export interface Traces {
  id: number;
  timed: boolean;
  from: number;
  to: number;
  raw: boolean;
  step: number;
  rows: number;
  x: number[];
  channels: {
    column: number;
    header: string;
    quantity: string;
    bank: number;
    low: (number | null)[];
    high: (number | null)[];
    first: (number | null)[];
    last: (number | null)[];
  }[];
}

export interface Masks {
  id: number;
  timed: boolean;
  refused: string | null;
  masks: {sensor: string; bank: number; why: string; spans: [number, number][]}[];
}

export interface Finding {
  check: string;
  sensor: string;
  bank: number;
  grade: string;
  seen: string;
  from_s: number;
  seconds: number;
  why: string;
  what_to_do: string;
}

export interface Firing {
  rule: string;
  signal: string;
  began_s: number;
  fired_s: number;
  lasted_s: number;
  instruction: string;
}

export interface CheckedRecording {
  id: number;
  name: string;
  key_on: boolean;
  timed: boolean;
  seconds: number | null;
  refused: string | null;
  findings: Finding[];
  not_checked: {check: string; because: string}[];
  masked: {sensor: string; bank: number; why: string; rows: number; seconds: number | null}[];
  guard: {firings: Firing[]; watched: string[]; not_watched: string[]; seconds: number};
}

export interface Check {
  sentence: string;
  units: Units;
  stops: number;
  doubts: number;
  fine: number;
  recordings: CheckedRecording[];
}
