// What stands in a cell: a value, or one of the kinds of empty.

import type { CellEntry, Status } from '../client/views';

export const EMPTY_WORDS: Record<Exclude<Status, 'value'>, string> = {
  not_seen: 'not seen',
  lost: 'lost',
  not_applicable: 'not applicable',
  not_yet: 'not yet',
};

export const EMPTY_MEANINGS: [word: string, meaning: string][] = [
  ['not seen', 'nobody looked'],
  ['lost', 'it was taken and is lost'],
  ['not applicable', 'it cannot be taken on this plot'],
  ['not yet', 'it is still to come'],
];

export function cellText(entry: CellEntry): string {
  if (entry.status !== 'value') return EMPTY_WORDS[entry.status];
  return entry.value === undefined || entry.value === null ? entry.text : String(entry.value);
}

/** A value with its unit; a score is a bare number. */
export function withUnit(entry: CellEntry, unit: string): string {
  return entry.status === 'value' && unit !== 'score' ? `${cellText(entry)} ${unit}` : cellText(entry);
}

export const inConflict = (entries: readonly CellEntry[]): boolean =>
  new Set(entries.map((entry) => cellText(entry))).size > 1;
