// The options that a comparison can set against each other, as one list to choose from.

import type { Side, TreatmentStructure } from '../client/plan';

export interface Option {
  value: string;
  label: string;
}

/** Parts factor and level in the value of an option; it cannot be typed into a name. */
const BETWEEN = '\u001f';

export const sideValue = (side: Side | undefined): string =>
  side === undefined || (side.level === '' && side.factor === undefined) ? '' : `${side.factor ?? ''}${BETWEEN}${side.level}`;

export function sideOf(value: string): Side {
  const [factor = '', level = ''] = value.split(BETWEEN);
  return factor === '' ? { level } : { factor, level };
}

/** Levels of each factor (averaged over the others), controls, and single treatments. */
export function sideOptions(treatments: TreatmentStructure, labels: readonly string[]): Option[] {
  const levels = treatments.factors.flatMap((factor) =>
    factor.levels
      .filter((level) => level.label !== '')
      .map((level) => ({ factor: factor.name, level: level.label })),
  );
  const controls = (treatments.controls ?? []).map((control) => control.label).filter((label) => label !== '');
  const single = treatments.factors.length > 1 ? labels.filter((label) => !controls.includes(label)) : [];
  return [
    ...levels.map((side) => ({ value: sideValue(side), label: `${side.factor}: ${side.level}` })),
    ...controls.map((level) => ({ value: sideValue({ level }), label: `control: ${level}` })),
    ...single.map((level) => ({ value: sideValue({ level }), label: `treatment: ${level}` })),
  ];
}

export function sideWords(side: Side | undefined): string {
  if (!side || side.level === '') return 'not chosen';
  return side.factor ? `${side.factor} ${side.level}` : side.level;
}
