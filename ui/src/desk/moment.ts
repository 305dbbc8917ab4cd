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

/** `2031-05-04 14:20:05`: two entries of one minute are told apart. */
export function dayAndExactTime(timestamp: string): string {
  const date = new Date(timestamp);
  if (Number.isNaN(date.getTime())) return timestamp;
  return `${dayAndTime(timestamp)}:${two(date.getSeconds())}`;
}

/** True for a day that exists, written as `2031-05-04`. */
export function isDay(text: string): boolean {
  const [, year, month, day] = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text) ?? [];
  if (year === undefined) return false;
  const date = new Date(Number(year), Number(month) - 1, Number(day));
  return date.getMonth() === Number(month) - 1 && date.getDate() === Number(day);
}

/** The moment of a day and a time (`14:30`, or `14:30:05`) in this zone, as RFC 3339; nothing when they name none. */
export function momentOf(day: string, time: string): string | undefined {
  const [, hour, minute, second = '00'] = /^(\d{1,2}):(\d{2})(?::(\d{2}))?$/.exec(time.trim()) ?? [];
  if (!isDay(day) || hour === undefined || Number(hour) > 23 || Number(minute) > 59 || Number(second) > 59) return undefined;
  return new Date(`${day}T${two(Number(hour))}:${minute}:${second}`).toISOString();
}
