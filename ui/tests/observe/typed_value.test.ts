import { describe, expect, it } from 'vitest';
import { changes, settled, understand } from '../../src/observe/typed_value';

const stand = { unit: 'plants/m2', range: [0, 200] as [number, number] };

describe('understand', () => {
  it.each([
    ['12.5', 12.5],
    ['12,5', 12.5],
    ['0', 0],
    ['41 plants/m2', 41],
  ])('%s is a value', (text, value) => expect(understand(text, stand)).toEqual({ kind: 'value', value }));

  it.each([
    ['ns', 'not seen'],
    ['Not  Seen', 'not seen'],
    ['LOST', 'lost'],
    ['n/a', 'not applicable'],
    ['ny', 'not yet'],
  ])('%s is a kind of empty', (text, word) => expect(understand(text, stand)).toEqual({ kind: 'empty', word }));

  it('keeps zero apart from nothing', () => {
    expect(understand('', stand)).toEqual({ kind: 'nothing' });
    expect(understand('0', stand).kind).toBe('value');
  });

  it('leaves another unit to the station', () =>
    expect(understand('3,8 plants/ft2', stand)).toEqual({ kind: 'with_unit', value: 3.8, unit: 'plants/ft2' }));

  it.each(['201', '-1', '1.234,5', '1,250', 'many', '12 5', '12..5'])('refuses %s with a reason', (text) => {
    const understood = understand(text, stand);
    expect(understood.kind).toBe('refused');
    expect(understood.kind === 'refused' && understood.why).toContain(text);
  });
});

it('writes a short word out', () => {
  expect(settled('na', stand)).toBe('not applicable');
  expect(settled(' 12,5 ', stand)).toBe('12,5');
});

describe('changes', () => {
  it('sees no change in the same number written otherwise', () => expect(changes('12,50', '12.5', stand)).toBe(false));
  it('sees a change from a value to a kind of empty', () => expect(changes('lost', '12.5', stand)).toBe(true));
  it('sees the emptying of a recorded value', () => expect(changes('', '12.5', stand)).toBe(true));
  it('sees nothing typed into an open cell', () => expect(changes(' ', undefined, stand)).toBe(false));
});
