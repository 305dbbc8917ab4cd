import { expect, it } from 'vitest';
import type { Layout, Plot } from '../../src/client/layout';
import { labelLines, mapGeometry, neighbour } from '../../src/layout/map_geometry';
import { tints } from '../../src/layout/tints';

// Two replicates, one range each, three plots between guard plots; serpentine.
const ground = {} as Layout['ground'];
const plot = (number: number | null, replicate: number, range: number, pass: number): Plot => ({
  number,
  kind: number === null ? 'guard' : 'plot',
  replicate,
  units: (number === null ? {} : { 'main plot': pass <= 3 ? 1 : 2 }) as Plot['units'],
  range,
  pass,
  treatment: number === null ? null : 0,
  x_m: 0,
  y_m: 0,
  width_m: 1.5,
  length_m: 8,
});
const layout: Layout = {
  ground,
  plots: [
    plot(null, 1, 1, 1), plot(101, 1, 1, 2), plot(102, 1, 1, 3), plot(103, 1, 1, 4), plot(null, 1, 1, 5),
    plot(null, 2, 2, 1), plot(203, 2, 2, 2), plot(202, 2, 2, 3), plot(201, 2, 2, 4), plot(null, 2, 2, 5),
  ],
  ranges: 2,
  passes: 5,
  width_m: 7.5,
  length_m: 18,
};
const map = mapGeometry(layout);
const cell = (number: number) => map.cells.find((one) => one.plot.number === number)!;

it('draws the front at the foot and pass 1 on the left', () => {
  expect(cell(101).y).toBeGreaterThan(cell(201).y);
  expect(cell(101).x).toBeLessThan(cell(102).x);
  expect(cell(203).x).toBe(cell(101).x);
});

it('draws no plot over another', () => {
  const places = new Set(map.cells.map(({ x, y }) => `${x}/${y}`));
  expect(places.size).toBe(layout.plots.length);
});

it('outlines each main plot of each replicate around its plots only', () => {
  expect(map.mainPlots).toHaveLength(4);
  expect(map.mainPlots[0]).toMatchObject({ replicate: 1, mainPlot: 1, x: cell(101).x, y: cell(101).y });
});

it('goes from plot to plot and over guard plots', () => {
  const to = (from: number, way: 'left' | 'right' | 'up' | 'down') => neighbour(map.cells, cell(from), way)?.plot.number;
  expect(to(101, 'right')).toBe(102);
  expect(to(101, 'up')).toBe(203);
  expect(to(203, 'down')).toBe(101);
  expect(to(101, 'left')).toBeUndefined();
});

it('breaks a label into at most three lines', () => {
  expect(labelLines('early, 60 kg/ha')).toEqual(['early', '60 kg/ha']);
  expect(labelLines('a very long treatment name of many words')).toHaveLength(3);
});

it('gives one tint per level of the first factor, and controls their own', () => {
  const level = (label: string) => ({ label });
  const structure = {
    factors: [
      { name: 'date', scale: { kind: 'qualitative' as const }, levels: [level('early'), level('late')] },
      { name: 'rate', scale: { kind: 'qualitative' as const }, levels: [level('1'), level('2'), level('3')] },
    ],
    controls: [{ label: 'none', plots_per_replicate: 1 }],
  };
  const tint = tints(structure, Array<string>(7).fill(''));
  expect([0, 1, 2, 3, 4, 5, 6].map(tint)).toEqual([0, 0, 0, 1, 1, 1, 2]);
});
