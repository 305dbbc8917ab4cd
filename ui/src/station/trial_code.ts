// A code for a new trial, made from its title until the person writes another.

const SMALL = new Set(['a', 'an', 'and', 'at', 'by', 'for', 'in', 'of', 'on', 'or', 'the', 'to', 'with']);

/** `Early and late sowing of flax`, 2031 becomes `ELSF-31`. */
export function codeOf(title: string, season: number | undefined): string {
  const words = title
    .normalize('NFKD')
    .replace(/[\u0300-\u036f]/g, '')
    .split(/[^A-Za-z0-9]+/)
    .filter((word) => word !== '' && !SMALL.has(word.toLowerCase()));
  const letters = words.length === 1 ? (words[0] ?? '').slice(0, 4) : words.map((word) => word[0]).join('').slice(0, 6);
  if (letters === '') return '';
  return season === undefined ? letters.toUpperCase() : `${letters.toUpperCase()}-${String(season).slice(-2)}`;
}
