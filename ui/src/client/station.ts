// Every request that the pages make, one function each.

import type { Lot, NewPlan, Plan } from './plan';
import type { Report } from './report';
import { troubleOfAnswer, troubleOfSilence } from './trouble';
import type {
  CellEntry,
  CropLine,
  DocumentKind,
  DocumentOptions,
  HarvestView,
  IntakeReport,
  LayoutView,
  ObservationTable,
  PacketsView,
  PlanCheck,
  PremiseStatus,
  PublicationLine,
  SeasonNote,
  StationView,
  TrialView,
  TypedValues,
  UnitLine,
} from './views';

type Query = Record<string, string | number | boolean | undefined>;

export const station = () => get<StationView>('/api/station');
export const crops = () => get<CropLine[]>('/api/crops');
export const units = () => get<UnitLine[]>('/api/units');

export const startTrial = (plan: NewPlan, by: string) => send<TrialView>('POST', '/api/trials', { plan, by });
export const trial = (code: string) => get<TrialView>(path(code));
export const checkPlan = (plan: Plan, signal?: AbortSignal) =>
  send<PlanCheck>('POST', '/api/plan/check', plan, signal);

export interface SavePlan {
  plan: Plan;
  expected_version: number;
  by: string;
  reason: string;
}
export const savePlan = (code: string, body: SavePlan) => send<TrialView>('PUT', path(code, 'plan'), body);
export const planFile = (code: string) => path(code, 'plan.toml');

export interface DrawLayout {
  by: string;
  seed?: string;
  reason?: string;
}
export const drawLayout = (code: string, body: DrawLayout) => send<LayoutView>('POST', path(code, 'layout'), body);
export const layout = (code: string, version?: number) => get<LayoutView>(path(code, 'layout'), { version });

export interface WhichMap extends Query {
  version: number;
  blind: boolean;
  /** Key of a measure; empty for none. */
  shade: string;
  width: 'page' | 'phone';
}
/** The plot map as SVG. */
export const mapDrawing = (code: string, which: WhichMap) => askText('GET', withQuery(path(code, 'map.svg'), which), {});

export const saveLot = (lot: Lot, by: string, reason: string) =>
  send<Lot>('PUT', `/api/lots/${encodeURIComponent(lot.code)}`, { lot, by, reason });
export const packets = (code: string) => get<PacketsView>(path(code, 'packets'));

export const makeDocument = (code: string, kind: DocumentKind, options: DocumentOptions) =>
  send<PublicationLine>('POST', path(code, `documents/${kind}`), options);
export const publicationFile = (line: PublicationLine) =>
  `/publications/${line.file.split('/').map(encodeURIComponent).join('/')}`;

export interface WhichObservations extends Query {
  event?: string;
  as_of?: string;
  blind?: boolean;
}
export const observations = (code: string, which: WhichObservations) =>
  get<ObservationTable>(path(code, 'observations'), which);
export const saveObservations = (code: string, body: TypedValues) =>
  send<ObservationTable>('POST', path(code, 'observations'), body);
export const history = (code: string, plot: number, measure: string) =>
  get<CellEntry[]>(path(code, 'history'), { plot, measure });

export function intake(code: string, file: File, accept: boolean, by: string): Promise<IntakeReport> {
  const form = new FormData();
  form.append('file', file, file.name);
  return ask<IntakeReport>('POST', withQuery(path(code, 'intake'), { accept, by }), { body: form });
}

export const harvest = (code: string) => get<HarvestView>(path(code, 'harvest'));

export interface JudgePremise {
  by: string;
  status: PremiseStatus;
  evidence: string;
}
export const judgePremise = (code: string, body: JudgePremise) => send<TrialView>('POST', path(code, 'premise'), body);
export const addNote = (code: string, note: SeasonNote) => send<TrialView>('POST', path(code, 'notes'), note);
export const report = (code: string) => get<Report>(path(code, 'report'));

function path(code: string, rest?: string): string {
  const trial = `/api/trials/${encodeURIComponent(code)}`;
  return rest ? `${trial}/${rest}` : trial;
}

function withQuery(url: string, query: Query): string {
  const pairs = Object.entries(query).filter(([, value]) => value !== undefined && value !== '');
  if (pairs.length === 0) return url;
  return `${url}?${new URLSearchParams(pairs.map(([key, value]) => [key, String(value)]))}`;
}

function get<Answer>(url: string, query: Query = {}): Promise<Answer> {
  return ask<Answer>('GET', withQuery(url, query), {});
}

function send<Answer>(method: 'POST' | 'PUT', url: string, body: unknown, signal?: AbortSignal): Promise<Answer> {
  const headers = { 'content-type': 'application/json' };
  return ask<Answer>(method, url, { body: JSON.stringify(body), headers, signal: signal ?? null });
}

async function ask<Answer>(method: string, url: string, init: RequestInit): Promise<Answer> {
  const text = await askText(method, url, init);
  try {
    return JSON.parse(text) as Answer;
  } catch {
    throw troubleOfAnswer(200, '', `${method} ${url}`);
  }
}

// The header is one that a page of another site cannot send; the server refuses a write without it.
async function askText(method: string, url: string, init: RequestInit): Promise<string> {
  const headers = { ...init.headers, ...(method === 'GET' ? {} : { 'x-guardrow': '1' }) };
  let response: Response;
  try {
    response = await fetch(url, { ...init, method, headers });
  } catch (thrown) {
    if (thrown instanceof DOMException && thrown.name === 'AbortError') throw thrown;
    throw troubleOfSilence(`${method} ${url}`);
  }
  const text = await response.text();
  if (!response.ok) throw troubleOfAnswer(response.status, text, `${method} ${url}`);
  return text;
}
