// Two people changed one plan. What only one of them changed is taken; where both did, the person at this desk decides.

export type Json = null | boolean | number | string | Json[] | { [key: string]: Json | undefined };

export interface Merged<Value> {
  value: Value;
  /** Places that both changed, differently; `value` holds mine there. */
  both: string[];
}

/** Joins my changes and theirs, both made on `base`. Lists are taken as one piece unless they are equally long in all three. */
export function merge<Value>(base: Value, mine: Value, theirs: Value): Merged<Value> {
  const both: string[] = [];
  const value = join(base as Json, mine as Json, theirs as Json, '', both);
  return { value: value as Value, both };
}

export function same(left: unknown, right: unknown): boolean {
  if (left === right) return true;
  if (Array.isArray(left) && Array.isArray(right)) {
    return left.length === right.length && left.every((item, index) => same(item, right[index]));
  }
  if (isRecord(left) && isRecord(right)) {
    const keys = new Set([...Object.keys(left), ...Object.keys(right)]);
    return [...keys].every((key) => same(left[key], right[key]));
  }
  return false;
}

/** The places in which two plans differ, as deep as they can be named. */
export function differences(left: unknown, right: unknown, place = ''): string[] {
  if (same(left, right)) return [];
  if (Array.isArray(left) && Array.isArray(right) && left.length === right.length) {
    return left.flatMap((item, index) => differences(item, right[index], `${place}[${index}]`));
  }
  if (isRecord(left) && isRecord(right)) {
    const keys = new Set([...Object.keys(left), ...Object.keys(right)]);
    return [...keys].flatMap((key) => differences(left[key], right[key], place === '' ? key : `${place}.${key}`));
  }
  return [place];
}

function join(base: Json | undefined, mine: Json | undefined, theirs: Json | undefined, place: string, both: string[]): Json | undefined {
  if (same(mine, theirs) || same(base, theirs)) return mine;
  if (same(base, mine)) return theirs;
  if (Array.isArray(base) && Array.isArray(mine) && Array.isArray(theirs)) {
    if (mine.length === theirs.length && mine.length === base.length) {
      return mine.map((item, index) => join(base[index], item, theirs[index], `${place}[${index}]`, both) ?? null);
    }
  }
  if (isRecord(mine) && isRecord(theirs)) {
    const from = isRecord(base) ? base : {};
    const joined: { [key: string]: Json | undefined } = {};
    for (const key of new Set([...Object.keys(mine), ...Object.keys(theirs)])) {
      const value = join(from[key], mine[key], theirs[key], place === '' ? key : `${place}.${key}`, both);
      if (value !== undefined) joined[key] = value;
    }
    return joined;
  }
  both.push(place);
  return mine;
}

function isRecord(value: unknown): value is { [key: string]: Json | undefined } {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
