import { expect, it } from 'vitest';
import { dayAndExactTime, dayAndTime, isDay, isoDay, momentOf } from '../../src/desk/moment';

it('shows days as ISO 8601', () => expect(isoDay(new Date(2031, 4, 4))).toBe('2031-05-04'));

it('shows a timestamp in this zone', () => {
  const local = new Date(2031, 4, 4, 9, 5);
  expect(dayAndTime(local.toISOString())).toBe('2031-05-04 09:05');
});

it('shows what it cannot read as it came', () => expect(dayAndTime('soon')).toBe('soon'));

it('turns a local time into a moment and back', () => {
  const moment = momentOf('2031-05-04', '9:05');
  expect(moment && dayAndTime(moment)).toBe('2031-05-04 09:05');
  const exact = momentOf('2031-05-04', '09:05:07');
  expect(exact && dayAndExactTime(exact)).toBe('2031-05-04 09:05:07');
  expect(moment && exact && Date.parse(exact) - Date.parse(moment)).toBe(7000);
  expect(momentOf('2031-05-04', '09:05:60')).toBeUndefined();
  expect(momentOf('2031-05-04', '')).toBeUndefined();
  expect(momentOf('2031-05-04', '24:00')).toBeUndefined();
  expect(momentOf('', '09:05')).toBeUndefined();
});

it.each([
  ['2031-05-04', true],
  ['2032-02-29', true],
  ['2031-02-29', false],
  ['2031-13-01', false],
  ['04.05.2031', false],
  ['', false],
])('%s is a day: %s', (text, day) => expect(isDay(text)).toBe(day));
