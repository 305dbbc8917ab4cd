// Pale tints by the level of the first factor, so that the eye finds the pattern; the words carry the meaning.

import type { TreatmentStructure } from '../client/plan';

const TINTS = 6;

/** The tint of each treatment: one per level of the first factor, the controls after them. */
export function tints(treatments: TreatmentStructure, labels: readonly string[]): (treatment: number) => number {
  const [first, ...others] = treatments.factors;
  const perLevel = others.reduce((count, factor) => count * factor.levels.length, 1);
  const levels = first?.levels.length ?? 0;
  return (treatment) => {
    const isControl = labels.length > 0 && treatment >= levels * perLevel;
    return (isControl ? levels : Math.floor(treatment / perLevel)) % TINTS;
  };
}
