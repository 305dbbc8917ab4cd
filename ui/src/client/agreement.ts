// The types that the pages are written with, held against those that the station describes of itself (interface.d.ts,
// written by `npm run api`). Only the compiler reads this file: `npm run check` fails and names the types that differ.

import type { components } from './interface';
import type * as plan from './plan';
import type * as report from './report';
import type * as views from './views';

type Described = components['schemas'];

/** What the pages read must be in what the station tells. */
interface Read {
  Plan: plan.Plan;
  Lot: plan.Lot;
  Report: report.Report;
  StationView: views.StationView;
  TrialView: views.TrialView;
  PlanCheck: views.PlanCheck;
  LayoutView: views.LayoutView;
  PacketsView: views.PacketsView;
  PublicationLine: views.PublicationLine;
  ObservationTable: views.ObservationTable;
  CellEntry: views.CellEntry;
  IntakeReport: views.IntakeReport;
  HarvestView: views.HarvestView;
  CropLine: views.CropLine;
  UnitLine: views.UnitLine;
}

/** What the pages send must be what the station takes. */
interface Sent {
  Plan: plan.Plan;
  Lot: plan.Lot;
  TypedValues: views.TypedValues;
  DocumentOptions: views.DocumentOptions;
  SeasonNote: views.SeasonNote;
}

// A field that may be missing is described as one that may also be null; pages and station treat both alike.
type Filled<T> = T extends object ? { [Field in keyof T]-?: Filled<NonNullable<T[Field]>> } : T;
type Fits<One, Other> = [Filled<One>] extends [Filled<Other>] ? true : false;
type Differing =
  | { [Name in keyof Read]: Fits<Described[Name], Read[Name]> extends true ? never : Name }[keyof Read]
  | { [Name in keyof Sent]: Fits<Sent[Name], Described[Name]> extends true ? never : Name }[keyof Sent];

type Nothing<T extends never> = T;
export type Agreement = Nothing<Differing>;
