// A blank plan with sizes of plots, for the tests.

import type { Plan } from '../../src/client/plan';
import { blankPlan } from '../../src/plan/blank_plan';

export function wholePlan(season: number): Plan {
  return {
    ...blankPlan(season),
    ground: {
      plot_length_m: 9,
      plot_width_m: 1.5,
      harvested_length_m: 7.5,
      harvested_width_m: 1.5,
      plots_per_range: 6,
      numbering: 'serpentine',
      alley_between_ranges_m: 1,
      alley_between_replicates_m: 1,
      guards_at_range_ends: 0,
      guards_between_main_plots: 0,
      guard_ranges: 0,
      north_bearing_deg: 0,
      seeder_start: 'front_left',
    },
  };
}
