import { expect, it } from 'vitest';
import type { Plot } from '../../src/client/layout';
import { neighbour, type Way } from '../../src/layout/plot_steps';

// Two replicates, one range each, three plots between guard plots; serpentine. The third range has one plot.
const plot = (number: number | null, range: number, pass: number): Plot => ({
  number,
  kind: number === null ? 'guard' : 'plot',
  replicate: range,
  units: {},
  range,
  pass,
  treatment: number === null ? null : 0,
  x_m: 0,
  y_m: 0,
  width_m: 1.5,
  length_m: 8,
});
const plots = [
  plot(null, 1, 1), plot(101, 1, 2), plot(102, 1, 3), plot(103, 1, 4), plot(null, 1, 5),
  plot(null, 2, 1), plot(203, 2, 2), plot(202, 2, 3), plot(201, 2, 4), plot(null, 2, 5),
  plot(301, 3, 4),
];

it.each<[number, Way, number | undefined]>([
  [101, 'right', 102],
  [103, 'right', undefined],
  [101, 'up', 203],
  [203, 'down', 101],
  [101, 'left', undefined],
  [101, 'down', undefined],
  [203, 'up', 301],
  [301, 'left', 202],
])('goes from %s %s to %s', (from, way, to) => {
  const start = plots.find((one) => one.number === from)!;
  expect(neighbour(plots, start, way)?.number).toBe(to);
});
