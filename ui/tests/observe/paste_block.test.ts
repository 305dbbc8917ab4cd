import { describe, expect, it } from 'vitest';
import { blockOf, place } from '../../src/observe/paste_block';

describe('blockOf', () => {
  it('leaves a single cell to the field', () => {
    expect(blockOf('12')).toBeUndefined();
    expect(blockOf('12\r\n')).toBeUndefined();
  });
  it('reads rows and columns', () => expect(blockOf('1\t2\r\n3\t4\r\n')).toEqual([['1', '2'], ['3', '4']]));
  it('reads a single column', () => expect(blockOf('1\n2\n3')).toEqual([['1'], ['2'], ['3']]));
  it('keeps a line end and a tab inside quotes', () => expect(blockOf('"a\nb"\t"c\t""d"""')).toEqual([['a\nb', 'c\t"d"']]));
  it('keeps empty cells in their place', () => expect(blockOf('1\t\t3')).toEqual([['1', '', '3']]));
});

describe('place', () => {
  it('puts the block where it is pasted and passes empty cells over', () =>
    expect(place([['1', ''], ['', '4']], 2, 1, 10, 5).inside).toEqual([
      { row: 2, column: 1, text: '1' },
      { row: 3, column: 2, text: '4' },
    ]));
  it('counts what falls outside', () => expect(place([['1', '2'], ['3', '4']], 0, 4, 1, 5)).toEqual({ inside: [{ row: 0, column: 4, text: '1' }], outside: 3 }));
});
