import { beforeAll, describe, expect, it, vi } from 'vitest';
import type * as Routes from '../../src/desk/route.svelte';

let routes: typeof Routes;
beforeAll(async () => {
  vi.stubGlobal('location', { hash: '' });
  vi.stubGlobal('addEventListener', () => undefined);
  routes = await import('../../src/desk/route.svelte');
});

describe('addresses', () => {
  it.each([
    { page: 'station' },
    { page: 'new_trial' },
    { page: 'lots' },
    { page: 'trial', code: 'FX-31', step: 'overview' },
    { page: 'trial', code: 'FX-31', step: 'observe' },
    { page: 'trial', code: 'Nord/3 ä%', step: 'report' },
  ] as const)('%o comes back', (route) => expect(routes.routeOf(routes.linkTo(route))).toEqual(route));

  it.each(['#/nowhere', '#/trial', '#/trial/FX/dance', '#/trial/FX/ask/more', '#/trial/%E0%A4%A'])('%s is no page', (hash) =>
    expect(routes.routeOf(hash).page).toBe('unknown'),
  );
});
