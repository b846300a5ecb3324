// What the server answers, as docs/http.md says it. Numbers in SI unless the name says otherwise; gaps are null.

export * from './contract_recordings';
import type {Question} from './contract_recordings';

export type Units = 'us' | 'metric';
export type Source = 'measured' | 'stated' | 'computed' | 'typical';
export type Mark = 'measured' | 'inferred' | 'prior only';

export interface Problem {
  code: string;
  where: string;
  message: string;
  questions?: Question[];
}

export interface Session {
  version: string;
  token: string;
  folder: string;
  who: string;
  started: string;
  largest_upload: number;
  largest_body: number;
}

export interface JobRow {
  job: string;
  bytes: number;
  changed: string;
  sentence: string | null;
  units: Units | null;
  revision: number | null;
  recordings: number | null;
  problem: string | null;
}

export interface StartQuestion {
  id: string;
  text: string;
  example: string;
}

export interface Line {
  section: string;
  key: string;
  about: string;
  value: string;
  tolerance: string;
  source: Source;
  reason: string;
  si: number[];
  tolerance_si: number;
  /// The usual spread of such engines; null where there is none.
  usual_tolerance_si: number | null;
  choices: string[] | null;
  /// "40 to 200 mm".
  allowed: string | null;
}

export interface Worth {
  driving: string;
  measuring: string;
  parts: string[];
  half_width_95_before: number;
  half_width_95_after: number;
  predicted: boolean;
  says: string;
}

export interface Sheet {
  sentence: string;
  units: Units;
  toml: string;
  sheet: Line[];
  given: number;
  typical: number;
  worth: Worth[];
  worth_of: 'this' | 'earlier' | 'none';
  worth_says: string;
  head: number;
}

export interface SheetChange {
  sentence: string;
  units: Units;
  changed: Line[];
  was: Line[];
  sheet: Line[];
  written: boolean;
  head: number;
}

export interface Axis {
  kind: string;
  label?: string;
  unit?: string;
  points_si: number[];
  points?: string[];
}

export interface Revision {
  number: number;
  parent: number | null;
  reason: string;
  author: string;
  when: string;
  in_force: boolean;
}

export interface RecordingRow {
  id: number;
  name: string;
  bytes: number;
  rows: number;
  added_when: string;
  added_by: string;
}

export interface JournalRow {
  id: number;
  when: string;
  who: string;
  command: string;
  why: string;
}

export interface Job {
  sentence: string;
  units: Units;
  sheet: Line[];
  recordings: RecordingRow[];
  revisions: Revision[];
  journal: JournalRow[];
  evidence: object | null;
  in_force: object | null;
  head: number;
}

export interface Chart {
  sentence: string;
  units: Units;
  table: string;
  unit: string;
  factor: number;
  lowest: number;
  highest: number;
  x: Axis;
  y: Axis;
  basis: 'driving' | 'parts' | 'table';
  estimate: number[] | null;
  sd_log: number[] | null;
  half_width_95: number[] | null;
  seconds: number[] | null;
  mark: Mark[] | null;
  in_force: number[] | null;
  revision: number;
  proposed: number[] | null;
  proposal: number | null;
  parent: number | null;
  change: number[] | null;
  /// Estimate over the revision in force less 1; null without both.
  correction: number[] | null;
  /// Why it no longer speaks for the job; empty while it does.
  stale: string[];
  says: string[];
  rests_on: {id: number; name: string; seconds: number[]}[];
  tables: string[];
  head: number;
  /// Highest load that full throttle reaches (rpm, SI of the load axis).
  reach: {x: number[]; y: number[]} | null;
  ambient_pa: number;
  /// Of the engine, on its sheet.
  name: string;
}

export interface Section {
  table: string;
  units: Units;
  unit: string;
  factor: number;
  at: number[];
  x: number[];
  y: number[];
  estimate: (number | null)[] | null;
  low: (number | null)[] | null;
  high: (number | null)[] | null;
  in_force: (number | null)[] | null;
  proposed: (number | null)[] | null;
  seconds: (number | null)[] | null;
  basis: string;
}

export interface Track {
  tracks: {id: number; name: string; x: (number | null)[]; y: (number | null)[]; t: (number | null)[]}[];
  without: {id: number; name: string; because: string}[];
}

export interface PlanStep {
  says: string;
  kind: string;
  feel: string;
  gear: number | null;
  from_rpm: number;
  until_rpm: number | null;
  pressure_pa: number;
  seconds: number;
  change_over_s: number;
  lift_at_lambda: number | null;
}

export interface Plan {
  sentence: string;
  verdict: string;
  minutes: number;
  steps: PlanStep[];
  course: {after_s: number; sd: number; within: number}[];
  cautions: string[];
  assumed: string[];
  left_out: string[];
  use: string;
  recordings: number;
}

export interface TableDifference {
  table: string;
  changed: number;
  nodes: number;
  other_axes: boolean;
  largest_rise: NodeDifference | null;
  largest_fall: NodeDifference | null;
  x: Axis;
  y: Axis;
  before: number[] | null;
  after: number[] | null;
  /// Of each node: the share it rose by, or, where it is not by_share, what was added.
  change: (number | null)[] | null;
  by_share: boolean;
}

export interface NodeDifference {
  x_si: number;
  y_si: number;
  before: number;
  after: number;
  share: number | null;
}

export interface Proposal {
  proposal: number;
  parent: number;
  reason: string;
  who: string;
  when: string;
  may_accept: boolean;
  because: string;
  tables: TableDifference[];
}

export interface Estimate {
  sentence: string;
  warnings: string[];
  not_known: string;
  verdict: string;
  because: string;
  family: string;
  change_words: string[];
  outlook_words: string[];
  dynamics: {sentence: string; notes: string[]} | null;
  stopping: {sentence: string} | null;
  recordings: UsedRecording[];
  proposal: number | null;
  parent: number;
  reason: string;
}

export interface UsedRecording {
  id: number;
  name: string;
  how: string;
  left_out: string;
  seconds_used: number;
  seconds_total: number;
  timed: boolean;
  set_aside: {reason: string; rows: number; seconds: number}[];
  notes: string[];
}

export interface Interval {
  low: number;
  middle: number;
  high: number;
}

export interface Predict {
  sentence: string;
  not_known: string;
  members: number;
  full_throttle: {
    speed_rpm: number[];
    map_pa: number[];
    ve: Interval[];
    torque_nm: Interval[];
    power_w: Interval[];
    fuel_kg_s: Interval[];
    spark_deg: Interval[];
    exhaust_k: Interval[];
    knock_limited_share: number[];
  };
  evidence: {estimate: number[]; sd_log: number[]; seconds: number[]; mark: Mark[]; x: {kind: string; points: number[]}; y: {kind: string; points: number[]}};
  cautions: string[];
  how: string[];
  revision: number | null;
  not_kept: string;
}

export interface StartQuestionReply {
  sentence: string;
  open: number;
  questions: {id: string; text: string; options: {give: string; means: string}[]; changes: string; answer: string | null}[];
}

export interface FirstStart {
  sentence: string;
  not_known: string;
  computed: boolean;
  not_computed: string;
  revision: number;
  station_from: string;
  questions: StartQuestionReply['questions'];
  cautions: string[];
  because: string[];
  phases: {phase: string; label: string; from: number}[];
  steps: {
    number: number; phase: string; id: string; title: string; do: string; if_not: string; stop: string; cautions: string[];
    expect: {what: string; says: string; known: boolean; from: string}[];
  }[];
}

export interface CalibrationPart {
  name: string;
  shape: 'table' | 'curve' | 'setting';
  label?: string;
  unit: string;
  factor: number;
  offset?: number;
  lowest: number;
  highest: number;
  reason: string | null;
  /// Of curves x, of tables both: shown = SI * factor + offset.
  x?: AxisUnit;
  y?: AxisUnit;
}

export interface AxisUnit {
  kind: string;
  label: string;
  unit: string;
  factor: number;
  offset: number;
}

export interface Calibration {
  revision: number;
  reason: string;
  author: string;
  when: string;
  in_force: boolean;
  calibration: {
    tables: Record<string, {values: number[]; x: {kind: string; points: number[]}; y: {kind: string; points: number[]}}>;
    curves: Record<string, {points: number[]; values: number[]}>;
    settings: Record<string, number>;
  };
  parts: CalibrationPart[];
}

export interface Work<Reply = unknown> {
  id: string | number;
  job: string;
  do: string;
  state: 'waiting' | 'running' | 'stopping' | 'done' | 'failed' | 'cancelled';
  share: number | null;
  says: string;
  seconds: number;
  status: number | null;
  reply: Reply | null;
  error: Problem | null;
}

export interface Compare {
  sentence: string;
  from: number;
  to: number;
  tables: TableDifference[];
  curves: {curve: string; unit: string; changed: number}[];
  settings: {setting: string; unit: string; before: number | null; after: number | null}[];
}

export interface Amend {
  sentence: string;
  parent: number;
  revision: number | null;
  tables: TableDifference[];
  /// Nodes amended against the evidence, the lean ones first; and how many more there are.
  mind: {node: [number, number]; says: string}[];
  mind_more: number;
}
