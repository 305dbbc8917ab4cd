// The units and crops that the station knows, asked for once.

import { crops, units } from '../client/station';
import type { CropLine, UnitLine } from '../client/views';

class TradeTables {
  units = $state<UnitLine[]>([]);
  crops = $state<CropLine[]>([]);

  /** Without the tables every field still works; it only offers nothing. */
  async load(): Promise<void> {
    const [unitLines, cropLines] = await Promise.allSettled([units(), crops()]);
    if (unitLines.status === 'fulfilled') this.units = unitLines.value;
    if (cropLines.status === 'fulfilled') this.crops = cropLines.value;
  }
}

export const tradeTables = new TradeTables();

/** What a unit measures (`mass_per_area`); nothing for one that the table does not know. */
export function dimensionOf(symbol: string | undefined): string | undefined {
  return tradeTables.units.find((unit) => unit.symbol === symbol)?.dimension;
}

/** `mass_per_area` for people. */
export const dimensionWords = (dimension: string) => dimension.replaceAll('_', ' ');

/** Units of a dimension, then all others. */
export function unitsFor(dimension: string | undefined): UnitLine[] {
  if (dimension === undefined) return tradeTables.units;
  const fits = (unit: UnitLine) => unit.dimension === dimension;
  return [...tradeTables.units.filter(fits), ...tradeTables.units.filter((unit) => !fits(unit))];
}
