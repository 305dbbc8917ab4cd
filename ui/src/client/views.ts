// What the station answers.

import type { Layout, Skeleton } from './layout';
import type { Lot, Measure, Plan, Unit } from './plan';

export type Weight = 'note' | 'warn' | 'refuse';

export interface Remark {
  weight: Weight;
  /** A path in the plan (`question.links[1].measure`), or file, sheet, line and column. */
  place: string;
  what: string;
  try_this: string;
}

export interface StationView {
  name: string;
  invented: boolean;
  trials: TrialLine[];
  lots: Lot[];
}

export type Stage = 'asking' | 'planned' | 'laid_out' | 'in_season' | 'observed';

export interface TrialLine {
  code: string;
  title: string;
  season: number;
  crop: string;
  stage: Stage;
  next: string;
  answer?: string;
}

export interface TrialView {
  plan: Plan;
  plan_version: number;
  remarks: Remark[];
  skeleton?: Skeleton;
  method?: string;
  layout?: LayoutView;
  layout_versions: LayoutLine[];
  stage: Stage;
  next: string;
  events: EventLine[];
  premise?: PremiseJudgement;
  notes: SeasonNote[];
  publications: PublicationLine[];
}

export interface PlanCheck {
  remarks: Remark[];
  skeleton?: Skeleton;
  method?: string;
  treatments: string[];
  plots: number;
  /** One entry per claim: its margin in the measure's unit, in words. */
  margins: (string | null)[];
}

export interface LayoutView {
  line: LayoutLine;
  treatments: string[];
  layout: Layout;
}

export interface LayoutLine {
  version: number;
  seed: string;
  algorithm: number;
  drawn_at: string;
  by: string;
  reason: string;
  locked?: string;
}

export interface EventLine {
  event: string;
  measures: Measure[];
  done: number;
  plots: number;
}

export type PremiseStatus = 'occurred' | 'did_not_occur' | 'cannot_tell' | 'none_needed';

export interface PremiseJudgement {
  status: PremiseStatus;
  evidence: string;
  by: string;
  recorded_at: string;
  after_yields: boolean;
}

export interface SeasonNote {
  kind: string;
  on: string;
  text: string;
  plots: number[];
  by: string;
}

export interface PublicationLine {
  kind: string;
  file: string;
  made_at: string;
}

export type DocumentKind =
  | 'map'
  | 'field-sheet'
  | 'field-workbook'
  | 'packet-labels'
  | 'packing-list'
  | 'report'
  | 'data-package'
  | 'r-script';

export interface DocumentOptions {
  by: string;
  event?: string;
  blind?: boolean;
  paper?: 'a4' | 'letter';
}

export type Status = 'value' | 'not_seen' | 'lost' | 'not_applicable' | 'not_yet';

export interface CellEntry {
  id: string;
  status: Status;
  value?: number;
  text: string;
  by: string;
  recorded_at: string;
  source: string;
  reason?: string;
  replaces?: string;
}

export interface TableRow {
  plot: number;
  replicate: number;
  treatment?: string;
  /** One list per measure: no entry, one, or several that disagree. */
  cells: CellEntry[][];
}

export interface ObservationTable {
  event: string;
  measures: Measure[];
  rows: TableRow[];
  as_of?: string;
}

export interface TypedValue {
  plot: number;
  measure: string;
  text: string;
  replaces?: string;
  reason: string;
}

export interface TypedValues {
  by: string;
  observed_on?: string;
  values: TypedValue[];
}

export interface IntakeReport {
  file: string;
  sha256: string;
  read_as: string;
  guesses: string[];
  counts: [string, number][];
  remarks: Remark[];
  sample: IntakeRow[];
  acceptable: boolean;
  accepted?: number;
}

export interface IntakeRow {
  place: string;
  plot: number;
  measure: string;
  status: Status;
  value: number | null;
}

export interface PacketsView {
  packets: PacketLine[];
  lots: LotNeed[];
  remarks: Remark[];
}

export interface PacketLine {
  sequence: number;
  plot: number;
  treatment: string;
  lot: string;
  seeds: number;
  grams: number;
  grams_shown: string;
  how: string;
}

export interface LotNeed {
  lot: string;
  need_g: number;
  on_hand_g: number | null;
  left_g: number | null;
}

export interface HarvestLine {
  plot: number;
  treatment: string;
  raw: number | null;
  standard: number | null;
  why_not: string;
}

export interface HarvestView {
  unit: Unit;
  standard_moisture_pct: number;
  lines: HarvestLine[];
}

export interface CropLine {
  name: string;
  standard_moisture_pct: number | null;
  bushel_lb: number | null;
}

export interface UnitLine {
  symbol: string;
  dimension: string;
}
