// Plots on the ground, and the degrees of freedom that a plan will give.

export interface Skeleton {
  strata: SkeletonStratum[];
  total_df: number;
  notices: { topic: string; sentence: string }[];
}

export interface SkeletonStratum {
  name: string;
  rows: { source: string; factors: string[]; df: number }[];
  error_df: number;
  total_df: number;
}

/** What was decided about the ground; lengths in metres. */
export interface Ground {
  plot_length_m: number;
  plot_width_m: number;
  harvested_length_m: number;
  harvested_width_m: number;
  rows?: number;
  row_spacing_m?: number;
  plots_per_range: number;
  ranges_per_replicate?: number;
  numbering: 'straight' | 'serpentine';
  alley_between_ranges_m: number;
  alley_between_replicates_m: number;
  guards_at_range_ends: number;
  guards_between_main_plots: number;
  guard_ranges: number;
  /** Compass bearing of the way from the front to the back. */
  north_bearing_deg: number;
  seeder_start: Corner;
}

export type Corner = 'front_left' | 'front_right' | 'back_left' | 'back_right';

export interface Layout {
  ground: Ground;
  plots: Plot[];
  ranges: number;
  passes: number;
  width_m: number;
  length_m: number;
}

export interface Plot {
  number: number | null;
  kind: 'plot' | 'guard';
  replicate: number | null;
  /** Numbers of its other larger units by name, each within the unit around it. */
  units: Record<string, number>;
  range: number;
  pass: number;
  /** Index into the treatments. */
  treatment: number | null;
  /** Left front corner, from the left front corner of the trial. */
  x_m: number;
  y_m: number;
  width_m: number;
  length_m: number;
}
