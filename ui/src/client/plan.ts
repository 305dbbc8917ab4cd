// The plan of a trial as the station stores it. A quantity (`250 kg/ha`) and a unit (`kg/ha`) travel as text.

import type { Ground } from './layout';

export type Quantity = string;
export type Unit = string;

export interface Plan {
  format: string;
  trial: TrialHead;
  question: Question;
  treatments: TreatmentStructure;
  arrangement: Arrangement;
  ground: Ground;
  measures: Measure[];
  harvest?: HarvestPlan;
  supply?: SupplyPlan;
  /** Measures that are analysed adjusted for others. */
  adjustments?: { measure: string; by: string[] }[];
  /** What the sold measure brings and what amounts of factors cost. */
  money?: { measure?: string; price?: Quantity; costs: { factor: string; amount: number; cost: Quantity }[] };
  exclusion_rule: string;
  table?: TableColumns;
}

/** A plan that the station fills up with its usual sizes of plots. */
export type NewPlan = Omit<Plan, 'ground'>;

export interface TrialHead {
  code: string;
  title: string;
  season: number;
  site: string;
  crop: string;
  /** Currency of costs and prices, by its ISO 4217 code. */
  currency: string;
  people: Person[];
}

export interface Person {
  name: string;
  role: string;
}

export interface Question {
  decision: string;
  who_acts: string;
  claims: Claim[];
  links: Link[];
  rivals: Rival[];
  premise?: Premise;
}

export interface Claim {
  statement: string;
  measure: string;
  comparison: Comparison;
  direction: Direction;
  margin?: Margin;
}

export interface Comparison {
  first: Side;
  second: Side;
}

/** One level of a factor, or (without a factor) one treatment or control by its label. */
export interface Side {
  factor?: string;
  level: string;
}

export type Direction = 'higher' | 'lower' | 'either';

export type Margin = Quantity | { added_cost: Quantity; price: Quantity };

export interface Link {
  step: string;
  measure: string;
  direction: Direction;
  smallest?: Quantity;
  when: string;
}

export interface Rival {
  explanation: string;
  measure: string;
  smallest?: Quantity;
}

export interface Premise {
  words: string;
  condition?: PremiseCondition;
}

export interface PremiseCondition {
  measure: string;
  place: string;
  window: string;
  statistic: string;
  below: boolean;
  threshold: Quantity;
  sensor_error?: Quantity;
}

export interface TreatmentStructure {
  factors: Factor[];
  controls?: Control[];
}

export interface Factor {
  name: string;
  scale: Scale;
  levels: Level[];
}

export type Scale = { kind: 'qualitative' } | { kind: 'quantitative'; unit: Unit };

export interface Level {
  label: string;
  amount?: number;
}

export interface Control {
  label: string;
  plots_per_replicate: number;
}

export type Arrangement =
  | { kind: 'completely_random'; replicates: number }
  | { kind: 'randomised_blocks'; replicates: number }
  | { kind: 'latin_square'; replicates: number }
  | { kind: 'split_plot'; replicates: number; main_plot_factors: string[] }
  | { kind: 'split_split_plot'; replicates: number; main_plot_factors: string[]; subplot_factors: string[] }
  | { kind: 'strip_plot'; replicates: number; across_factors: string[]; along_factors: string[] }
  | { kind: 'incomplete_blocks'; replicates: number; block_size: number }
  | { kind: 'row_column'; replicates: number; rows: number; columns: number }
  | { kind: 'augmented_blocks'; replicates: number; checks: string[] }
  | { kind: 'farm_strips'; replicates: number }
  | ({ kind: 'stated' } & StatedUnits);

/** Units stated one by one, for a trial that was laid out elsewhere. */
export interface StatedUnits {
  replicates: number;
  /** Outermost first, as in `site / block / (row x column)`. */
  units: string;
  randomised_to?: Record<string, string>;
  environments?: string[];
  scope?: 'these_environments' | 'environments_like_these';
  random_factors?: string[];
}

export interface Measure {
  key: string;
  name: string;
  unit: Unit;
  event: string;
  method: string;
  range?: [number, number];
  values?: ValueKind;
  transformed?: { by: 'logarithm' | 'square_root' | 'angular'; added?: number };
  anchors?: [string, string];
}

/** What the values of a measure are; measurements when absent. */
export type ValueKind =
  | { kind: 'measured' }
  | { kind: 'counted'; searched?: string; spread?: 'poisson' | 'negative_binomial' }
  | { kind: 'share'; of: number | string; link?: 'logit' | 'probit' | 'complementary_log_log' }
  | { kind: 'scored'; link?: 'logit' | 'probit' };

export interface HarvestPlan {
  standard_moisture_pct?: number;
  yield_unit: Unit;
}

export interface SupplyPlan {
  stands: TargetStand[];
  lots: LotUse[];
  emergence_pct: number;
  overfill_pct: number;
  reserve_pct: number;
  sown_length?: Quantity;
}

export interface TargetStand {
  only?: Side;
  stand: Quantity;
}

export interface LotUse {
  only?: Side;
  lot: string;
}

export interface TableColumns {
  plot?: string;
  replicate?: string;
  units?: Record<string, string>;
  treatment?: string;
  factors?: Record<string, string>;
  range?: string;
  pass?: string;
}

/** A bag or batch of seed with its papers. */
export interface Lot {
  code: string;
  crop: string;
  variety: string;
  thousand_kernel_weight_g?: number;
  germination_pct?: number;
  germination_tested?: string;
  treatment: string;
  on_hand?: Quantity;
  caution: string;
}
