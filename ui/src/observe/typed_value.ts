// What a person types into a cell, understood while it is typed. The station has the last word; this only saves a trip.

import type { Measure } from '../client/plan';
import { numberOf, twoReadings, twoReadingsWords } from '../desk/figures';

export type Understood =
  | { kind: 'nothing' }
  | { kind: 'value'; value: number }
  /** A number with a unit of its own; the station converts it. */
  | { kind: 'with_unit'; value: number; unit: string }
  | { kind: 'empty'; word: string }
  | { kind: 'refused'; why: string };

/** Short ways to type a kind of empty, written out when the cell is left. */
const SHORT: Record<string, string> = {
  'ns': 'not seen',
  'not seen': 'not seen',
  'l': 'lost',
  'lost': 'lost',
  'na': 'not applicable',
  'n/a': 'not applicable',
  'not applicable': 'not applicable',
  'ny': 'not yet',
  'not yet': 'not yet',
};

type Judged = Pick<Measure, 'unit' | 'range'>;

export function understand(text: string, measure: Judged): Understood {
  const typed = text.trim().replace(/\s+/g, ' ');
  if (typed === '') return { kind: 'nothing' };
  const word = SHORT[typed.toLowerCase()];
  if (word !== undefined) return { kind: 'empty', word };
  if (twoReadings(typed)) return { kind: 'refused', why: twoReadingsWords(typed) };
  const whole = numberOf(typed);
  if (whole !== undefined) return inRange(whole, measure);
  const [, amount, unit] = /^([+\-\u2212]?[\d.,]+)\s*(.+)$/.exec(typed) ?? [];
  const value = amount === undefined ? undefined : numberOf(amount);
  if (value !== undefined && unit !== undefined && !/^[\d.,]/.test(unit)) {
    return unit === measure.unit ? inRange(value, measure) : { kind: 'with_unit', value, unit };
  }
  if (/^[\d.,\s]+$/.test(typed)) {
    return { kind: 'refused', why: `“${typed}” can be read in two ways. Write one decimal sign and no thousands sign.` };
  }
  return { kind: 'refused', why: `“${typed}” is neither a number nor one of: not seen, lost, not applicable, not yet.` };
}

function inRange(value: number, { range, unit }: Judged): Understood {
  if (range && (value < range[0] || value > range[1])) {
    return { kind: 'refused', why: `${value} is outside ${range[0]} to ${range[1]} ${unit}, which the plan says can be right.` };
  }
  return { kind: 'value', value };
}

/** The text as it is shown once the cell is left: a short word is written out. */
export function settled(text: string, measure: Judged): string {
  const understood = understand(text, measure);
  return understood.kind === 'empty' ? understood.word : text.trim();
}

/** Whether typing this over what stands there changes anything. */
export function changes(text: string, standing: string | undefined, measure: Judged): boolean {
  if (standing === undefined) return text.trim() !== '';
  const [now, before] = [understand(text, measure), understand(standing, measure)];
  if (now.kind === 'value' && before.kind === 'value') return now.value !== before.value;
  if (now.kind === 'empty' && before.kind === 'empty') return now.word !== before.word;
  return text.trim() !== standing.trim();
}
