// Measures by which the map can be shaded: those that have values.

import type { ObservationTable } from '../client/views';

/** - `harvested`: the yield is computed from the harvest, whose measures are in the table */
export function shadesOf(table: ObservationTable, harvested: boolean): { value: string; label: string }[] {
  const withValues = table.measures.filter((_, column) =>
    table.rows.some((row) => row.cells[column]?.some((entry) => entry.status === 'value')),
  );
  const computed = harvested && withValues.some((measure) => measure.key === 'harvest_mass') ? [{ value: 'yield', label: 'Yield' }] : [];
  return [...computed, ...withValues.map((measure) => ({ value: measure.key, label: measure.name }))];
}
