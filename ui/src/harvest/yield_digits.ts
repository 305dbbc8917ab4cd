// How many digits behind the point a column of yields is shown with: three figures of its typical value, no more.

/** 0 for thousands of kg/ha, 2 for a few t/ha, 1 for some tens of bu/ac. */
export function digitsFor(values: readonly (number | null)[]): number {
  const sizes = values.filter((value): value is number => value !== null && value !== 0).map(Math.abs).sort((left, right) => left - right);
  const typical = sizes[Math.floor(sizes.length / 2)];
  if (typical === undefined) return 0;
  return Math.min(3, Math.max(0, 2 - Math.floor(Math.log10(typical))));
}
