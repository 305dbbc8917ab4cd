// Numbers and quantities as people type them: with a decimal point or a decimal comma.

const NUMBER = /^[+\-\u2212]?(\d+([.,]\d*)?|[.,]\d+)$/;

/** The number that was typed; nothing when it is not one. `1,5` and `1.5` are the same; `1.234,5` is refused. */
export function numberOf(text: string): number | undefined {
  const typed = text.trim();
  if (!NUMBER.test(typed)) return undefined;
  return Number(typed.replace('\u2212', '-').replace(',', '.'));
}

/** `1,250`: a decimal comma, or a separator of thousands? Asked about, never guessed. */
export const twoReadings = (text: string): boolean => /^[+\-\u2212]?[1-9]\d{0,2},\d{3}$/.test(text.trim());

/** What to say of such a number. */
export const twoReadingsWords = (text: string): string =>
  `“${text.trim()}” can be read in two ways: write ${text.trim().replace(',', '')} or ${text.trim().replace(',', '.')}.`;

export interface QuantityParts {
  amount: string;
  unit: string;
}

/** Splits `250 kg/ha` into what stands in the two fields. */
export function partsOf(quantity: string | undefined): QuantityParts {
  const found = /^(\S*)\s*(.*?)\s*$/.exec(quantity ?? '');
  return { amount: found?.[1] ?? '', unit: found?.[2] ?? '' };
}

/** Joins the two fields; nothing when both are empty. A unit alone keeps its place behind a space. */
export function joined({ amount, unit }: QuantityParts): string | undefined {
  const [a, u] = [amount.replace(/\s/g, ''), unit.trim()];
  if (a === '' && u === '') return undefined;
  return `${a} ${u}`;
}

/** True for a number with a unit. */
export function isQuantity(quantity: string | undefined): boolean {
  const { amount, unit } = partsOf(quantity);
  return numberOf(amount) !== undefined && !twoReadings(amount) && unit !== '' && !/^[\s.,]*\d/.test(unit);
}

/** `78 money/ha` is shown as `78 EUR/ha` where the trial counts in EUR. */
export const inCurrency = (text: string, currency: string): string => (currency === '' ? text : text.replace(/\bmoney\b/g, currency));

/** `EUR/ha` is stored as `money/ha`: the unit table knows amounts of money, the trial knows in which currency. */
export const ofCurrency = (unit: string, currency: string): string =>
  currency !== '' && unit.toUpperCase().startsWith(currency.toUpperCase()) && !/^[a-z]/i.test(unit.slice(currency.length))
    ? `money${unit.slice(currency.length)}`
    : unit;

export const counted = (count: number, one: string, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;

/** A message of the station as a sentence: `no unit is known` becomes `No unit is known.` */
export function asSentence(text: string): string {
  const told = text.trim();
  if (told === '') return '';
  return `${told.charAt(0).toUpperCase()}${told.slice(1)}${/[.!?:…]["”’)]?$/.test(told) ? '' : '.'}`;
}

/** A number with at most `digits` after the point, without trailing zeros. */
export function shown(value: number, digits: number): string {
  return String(Number(value.toFixed(digits)));
}
