// The trial of the walk: what a person types, and what was "measured".

export const CODE = 'W-31';
export const PERSON = 'A. Walker';

export const HEAD = {
  decision: 'Leave the straw on the ground in spring, or take it off',
  who: 'growers of the valley',
  title: 'Straw cover and seeding depth of faba bean',
  season: '2031',
  crop: 'faba bean',
  site: 'Low Field',
};

/** Straw gives half a tonne more, whatever the depth; plots scatter a little. */
export function harvestTable(layout, { commas = false } = {}) {
  const rows = plotsOf(layout).map(({ number, treatment, replicate }, index) => {
    const mass = 4.1 + (treatment.startsWith('straw') ? 0.62 : 0) + replicate * 0.08 + ((index * 7) % 5) * 0.03;
    return [number, treatment, mass.toFixed(3), (15.2 + (index % 4) * 0.3).toFixed(1), '7.02', '1.5'];
  });
  const header = ['plot', 'treatment', 'harvest_mass', 'harvest_moisture', 'harvested_length', 'harvested_width'];
  if (!commas) return [header, ...rows].map((row) => row.map((cell) => (String(cell).includes(',') ? `"${cell}"` : cell)).join(',')).join('\n') + '\n';
  return [header, ...rows.map((row) => row.map((cell, at) => (at > 1 ? String(cell).replace('.', ',') : cell)))].map((row) => row.join(';')).join('\n') + '\n';
}

/** The same table with a plot that is not there, a moisture over 100 and a misspelt treatment. */
export function wrongTable(layout) {
  const lines = harvestTable(layout, { commas: true }).trimEnd().split('\n');
  lines[1] = lines[1].replace(/^\d+/, '999');
  lines[2] = lines[2].replace(/;(\d+),(\d);/, ';1$1,$2;');
  lines[3] = lines[3].replace('straw', 'strwa').replace('bare', 'baer');
  return lines.join('\n') + '\n';
}

export function plotsOf({ layout, treatments }) {
  return layout.plots
    .filter((plot) => plot.number !== null)
    .map((plot) => ({ ...plot, treatment: treatments[plot.treatment] }))
    .sort((left, right) => left.number - right.number);
}

/** What is typed for a plot at the stand count: a comma here, a kind of empty there. */
export function typedStand(index, treatment) {
  if (index === 3) return 'ns';
  const stand = (treatment.startsWith('straw') ? 41 : 36) + (index % 4) * 0.5;
  return index % 3 === 0 ? stand.toFixed(1).replace('.', ',') : stand.toFixed(1);
}
export const storedStand = (typed) => (typed === 'ns' ? undefined : Number(typed.replace(',', '.')));
