// Which page is open, kept in the address after `#` so that it can be bookmarked and gone back to.

export const STEPS = ['ask', 'plan', 'layout', 'supply', 'observe', 'harvest', 'find', 'publish'] as const;
export type StepKey = (typeof STEPS)[number];
export type TrialPageKey = StepKey | 'overview' | 'notes' | 'report';

export type Route =
  | { page: 'station' }
  | { page: 'new_trial' }
  | { page: 'lots' }
  | { page: 'trial'; code: string; step: TrialPageKey }
  | { page: 'unknown'; hash: string };

const TRIAL_PAGES: readonly string[] = [...STEPS, 'overview', 'notes', 'report'];

export function routeOf(hash: string): Route {
  const parts = hash.replace(/^#\/?/, '').split('/').filter((part) => part !== '');
  const [first, second, third = 'overview'] = parts;
  if (first === undefined) return { page: 'station' };
  if (first === 'new' && second === undefined) return { page: 'new_trial' };
  if (first === 'lots' && second === undefined) return { page: 'lots' };
  const code = second === undefined ? undefined : decoded(second);
  if (first === 'trial' && code !== undefined && TRIAL_PAGES.includes(third) && parts.length <= 3) {
    return { page: 'trial', code, step: third as TrialPageKey };
  }
  return { page: 'unknown', hash };
}

export function linkTo(route: Exclude<Route, { page: 'unknown' }>): string {
  switch (route.page) {
    case 'station':
      return '#/';
    case 'new_trial':
      return '#/new';
    case 'lots':
      return '#/lots';
    case 'trial':
      return `#/trial/${encodeURIComponent(route.code)}${route.step === 'overview' ? '' : `/${route.step}`}`;
  }
}

export const trialLink = (code: string, step: TrialPageKey = 'overview') => linkTo({ page: 'trial', code, step });

function decoded(part: string): string | undefined {
  try {
    return decodeURIComponent(part);
  } catch {
    return undefined;
  }
}

class Address {
  route = $state<Route>(routeOf(location.hash));

  constructor() {
    addEventListener('hashchange', () => {
      this.route = routeOf(location.hash);
    });
  }

  go(link: string): void {
    location.hash = link;
  }
}

export const address = new Address();
