// Light paper or high contrast, remembered on this device.

export type Theme = 'paper' | 'contrast';

const KEY = 'guardrow theme';

function remembered(): Theme {
  const kept = localStorage.getItem(KEY);
  if (kept === 'paper' || kept === 'contrast') return kept;
  return matchMedia('(prefers-contrast: more)').matches ? 'contrast' : 'paper';
}

class ThemeChoice {
  now = $state<Theme>(remembered());

  constructor() {
    this.apply();
  }

  switchOver(): void {
    this.now = this.now === 'paper' ? 'contrast' : 'paper';
    localStorage.setItem(KEY, this.now);
    this.apply();
  }

  private apply(): void {
    document.documentElement.dataset['theme'] = this.now;
  }
}

export const theme = new ThemeChoice();
