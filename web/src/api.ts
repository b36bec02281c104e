/** What the daemon says and understands. Units are the interface's own: bar, °C, L, L/h, mg/L, µS/cm, s. */

export type State =
  | "standby"
  | "priming"
  | "pressurising"
  | "diverting"
  | "producing"
  | "stopping"
  | "flushing"
  | "tripped"
  | "laid_up"
  | "hand_run"
  | "bench";

export type Quality =
  | "good"
  | "under"
  | "over"
  | "open"
  | "short"
  | "stale"
  | "stuck"
  | "implausible"
  | "missing";

export type Priority = "urgent" | "high" | "low" | "log";

export type AlarmState =
  | "normal"
  | "unacknowledged"
  | "acknowledged"
  | "returned-unacknowledged"
  | "latched"
  | "shelved";

export interface Reading {
  value: number | null;
  raw: number | null;
  unit: string;
  quality: Quality;
  age_s: number | null;
}

export interface Alarm {
  id: string;
  state: AlarmState;
  priority: Priority;
  /** UTC, ISO 8601; null while the clock is not set. */
  since: string | null;
  means: string;
  ignored: string;
  do: string;
}

export interface Run {
  id: string;
  litres: number;
  target_l: number | null;
  seconds: number;
  energy_wh: number | null;
  remaining_s: number | null;
}

export interface Purge {
  of: string;
  rinsed_l?: number | null;
  rinse_l?: number | null;
  left_s?: number | null;
  confirm?: boolean;
}

export interface Limits {
  accept_tds_mg_l?: number;
  reject_tds_mg_l?: number;
  membrane_pressure_high_bar?: number;
  membrane_pressure_high_high_bar?: number;
  working_pressure_bar?: number;
  feed_pressure_low_bar?: number;
  feed_pressure_low_low_bar?: number;
}

export interface UnitChoice {
  pressure: "bar" | "psi";
  volume: "L" | "gal";
  temperature: "C" | "F";
  salt: "mg/L" | "uS/cm";
}

/** What only a person can do, now. `answer` is the command that says it was done, where there is one. */
export interface Ask {
  id: string;
  text: string;
  answer?: { label: string; command: string; arguments?: Record<string, unknown> };
}

/** What the start sheet needs to tell the cost beforehand. */
export interface StartFacts {
  questions?: { id: string; text: string }[];
  flow_l_h?: number | null;
  power_w?: number | null;
  flush_l?: number | null;
  before_s?: number | null;
  tank_room_l?: number | null;
  run_limit_s?: number | null;
}

/** Something wrong with the boat's computer itself: settings, record, database. */
export interface Problem {
  part: string;
  text: string;
  remedy?: string;
}

/** What is known of the plant: all of it null or absent while the link to the control process is lost. */
export interface Plant {
  state: State | null;
  since_s: number | null;
  sentence: string | null;
  ask?: Ask | null;
  first_out: string | null;
  readings: Record<string, Reading> | null;
  contacts?: Record<string, boolean | null> | null;
  derived: Record<string, number | null> | null;
  outputs: Record<string, boolean | null> | null;
  run: Run | null;
  alarms: Alarm[] | null;
  owed: { flush: boolean; purge: Purge | null } | null;
  locked: { name: string; reason: string } | null;
  allowed_commands: string[] | null;
  refused: Record<string, string[]> | null;
}

export interface Snapshot extends Plant {
  schema: string | number;
  boat: string;
  simulated: boolean | null;
  link: { control: "live" | "lost"; age_s: number | null };
  boot: string | null;
  seq: number | null;
  time: string | null;
  uptime_s: number | null;
  limits?: Limits | null;
  units?: UnitChoice | null;
  drive?: { pump: "relay" | "permissive" | "watch_only"; regulator: "hand_each_run" | "left_set" } | null;
  start?: StartFacts | null;
  problems?: Problem[] | null;
  version?: string | null;
  last?: Partial<Plant> | null;
}

export interface HistoryPoint {
  t: number;
  min: number | null;
  mean: number | null;
  max: number | null;
}

export interface History {
  channel: string;
  unit: string;
  points: HistoryPoint[];
}

export interface RunRecord {
  id: string;
  started: string | null;
  ended?: string | null;
  /** Why it ended, in words. */
  why: string | null;
  first_out?: string | null;
  seconds?: number | null;
  producing_s?: number | null;
  litres: number | null;
  overboard_l?: number | null;
  flush_l?: number | null;
  tds_mean_mg_l?: number | null;
  tds_worst_mg_l?: number | null;
  energy_wh?: number | null;
  peak_pressure_bar?: number | null;
}

export interface AlarmEvent {
  id: string;
  time: string | null;
  to: AlarmState;
  priority: Priority;
  means?: string;
}

/** The answer to a command: taken, refused with every reason, wanting the PIN, or never arrived. */
export type Answer =
  | { kind: "accepted" }
  | { kind: "refused"; reasons: string[] }
  | { kind: "pin"; text: string | null }
  | { kind: "failed"; text: string };

export type Arguments = Record<string, unknown>;

const ROOT = "/api/v1";
const PATIENCE_MS = 6000;

async function call(path: string, init: RequestInit = {}): Promise<Response> {
  const controller = new AbortController();
  const timer = setTimeout(() => controller.abort(), PATIENCE_MS);
  try {
    return await fetch(ROOT + path, { credentials: "same-origin", ...init, signal: controller.signal });
  } finally {
    clearTimeout(timer);
  }
}

async function body(response: Response): Promise<Record<string, unknown>> {
  try {
    const read: unknown = await response.json();
    return typeof read === "object" && read !== null ? (read as Record<string, unknown>) : {};
  } catch {
    return {};
  }
}

/** The reasons in an answer, whichever of the server's forms they come in. */
function reasonsIn(said: Record<string, unknown>): string[] {
  const listed = Array.isArray(said["reasons"]) ? (said["reasons"] as unknown[]) : [];
  const texts = listed.filter((reason): reason is string => typeof reason === "string");
  if (texts.length > 0) return texts;
  return typeof said["detail"] === "string" ? [said["detail"]] : [];
}

function posting(content: unknown, method = "POST"): RequestInit {
  return {
    method,
    headers: { "Content-Type": "application/json", "X-Halocline": "1" },
    body: JSON.stringify(content),
  };
}

export async function sendCommand(command: string, args: Arguments = {}): Promise<Answer> {
  let response: Response;
  try {
    response = await call("/commands", posting({ command, ...args }));
  } catch {
    return { kind: "failed", text: "It did not get through: the boat's computer does not answer." };
  }
  const said = await body(response);
  const reasons = reasonsIn(said);
  if (response.status === 401) return { kind: "pin", text: reasons[0] ?? null };
  if (response.ok && said["accepted"] === true) return { kind: "accepted" };
  if (reasons.length > 0) return { kind: "refused", reasons };
  return { kind: "failed", text: `The boat's computer answered with error ${response.status}.` };
}

/** Opens a session. Null when the PIN was right, else what the server says. */
export async function openSession(pin: string): Promise<string | null> {
  try {
    const response = await call("/session", posting({ pin }));
    if (response.ok) return null;
    const reasons = reasonsIn(await body(response));
    return reasons[0] ?? (response.status === 429 ? "Too many tries. Wait a little." : "That is not the PIN.");
  } catch {
    return "The boat's computer does not answer.";
  }
}

/** Thrown by the reading functions; `status` is null when nothing answered. */
export class ReadError extends Error {
  readonly status: number | null;

  constructor(status: number | null) {
    super(status === null ? "nothing answered" : `the server answered ${status}`);
    this.status = status;
  }
}

export async function read<T>(path: string): Promise<T> {
  let response: Response;
  try {
    response = await call(path);
  } catch {
    throw new ReadError(null);
  }
  if (!response.ok) throw new ReadError(response.status);
  return (await response.json()) as T;
}

export function historyPath(channel: string, from_s: number, to_s: number, points: number): string {
  const query = new URLSearchParams({
    channel,
    from: String(Math.floor(from_s)),
    to: String(Math.ceil(to_s)),
    points: String(points),
  });
  return `/history?${query.toString()}`;
}

export const STREAM_URL = `${ROOT}/stream`;
