// The trial report: finished text, tables and drawings, the same for the page and for the print.

export interface Report {
  heading: Heading;
  question: ReportQuestion;
  findings: Finding[];
  method: Method;
  map: Figure | null;
  season: Season;
  responses: ResponseReport[];
  harvest: Harvest | null;
  sections: Section[];
  not_meant: string[];
  cautions: string[];
  exclusions: Exclusions;
  provenance: Fact[];
}

export interface Heading {
  title: string;
  trial_code: string;
  station: string;
  season: string;
  site: string;
  crop: string;
  people: { name: string; role: string }[];
  prepared_on: string;
  stamp: { standing: 'draft' | 'final' | 'in_season'; text: string };
}

export interface ReportQuestion {
  decision: string;
  who_acts: string;
  claim: string;
  margin: string;
  premise: {
    text: string;
    status: 'none_needed' | 'occurred' | 'did_not_occur' | 'cannot_tell';
    status_text: string;
    evidence: string;
  };
  chain: Table;
  chain_sentence: string;
  rivals: string[];
}

export type VerdictKind =
  | 'supported'
  | 'contradicted'
  | 'no_difference_that_matters'
  | 'undecided'
  | 'never_tested'
  | 'no_verdict';

export interface Finding {
  claim: string;
  verdict: { kind: VerdictKind; word: string };
  sentence: string;
  numbers: string;
  would_take: string;
  notes: string[];
  not_to_say: string[];
}

export interface Method {
  sentences: string[];
  treatments: Table;
}

export interface Season {
  notes: string[];
  operations: Table | null;
  deviations: Table | null;
}

/** An analysis with other errors that stands beside the one as randomised. */
export interface Beside {
  heading: string;
  sentences: string[];
  tables: Table[];
  map: Figure | null;
}

export interface ResponseReport {
  key: string;
  measure: string;
  unit: string;
  deciding: boolean;
  n: number;
  missing: number;
  n_sentence: string;
  tests: Table;
  gate_sentence: string;
  means: Table[];
  precision: string[];
  figures: Figure[];
  diagnostics: Figure | null;
  looking: { sentences: string[]; tables: Table[]; map: Figure | null };
  beside: Beside[];
  notices: { level: 'remark' | 'warning' | 'technical'; text: string }[];
}

export interface Harvest {
  sentence: string;
  table: Table;
}

export interface Section {
  heading: string;
  paragraphs: string[];
  tables: Table[];
}

export interface Exclusions {
  sentence: string;
  table: Table | null;
}

export interface Fact {
  label: string;
  value: string;
}

/** A drawing at page width and at phone width, made by the station from the numbers in `chart`. */
export interface Figure {
  caption: string;
  chart: { kind: string };
  svg: string;
  svg_phone: string;
}

export type Align = 'left' | 'right' | 'centre';
export type RowKind = 'plain' | 'group' | 'total' | 'attention' | 'muted';

export interface Table {
  caption: string;
  columns: { heading: string; unit: string; align: Align }[];
  rows: { cells: string[]; kind: RowKind }[];
  notes: string[];
}
