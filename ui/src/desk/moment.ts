// Days and times as the pages show them: ISO 8601, in this device's time zone.

const two = (value: number) => String(value).padStart(2, '0');

export function isoDay(date: Date): string {
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

export const today = () => isoDay(new Date());

/** `2031-05-04 14:20` of a timestamp; what cannot be read is shown as it came. */
export function dayAndTime(timestamp: string): string {
  const date = new Date(timestamp);
  if (Number.isNaN(date.getTime())) return timestamp;
  return `${isoDay(date)} ${two(date.getHours())}:${two(date.getMinutes())}`;
}

/** The moment that a `datetime-local` field names, as RFC 3339; nothing when it is not whole. */
export function momentOf(local: string): string | undefined {
  if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}/.test(local)) return undefined;
  const date = new Date(local);
  return Number.isNaN(date.getTime()) ? undefined : date.toISOString();
}
