/** What the daemon says and understands. Units are the interface's own: bar, °C, L, L/h, mg/L, µS/cm, s. */

import type { components } from "./generated/api";

export type Schemas = components["schemas"];

export type State = Schemas["State"];
export type Quality = Schemas["Quality"];
export type Priority = Schemas["Priority"];
export type AlarmState = Schemas["AlarmState"];
export type Reading = Schemas["ReadingNow"];
export type Ask = Schemas["PublicAsk"];
export type Alarm = Schemas["PublicAlarm"];
export type Purge = Schemas["Purge"];
export type UnitChoice = Schemas["UnitChoice"];
export type History = Schemas["PublicHistory"];
export type RunRecord = Schemas["RecordedRun"];
export type AlarmStep = Omit<Schemas["AlarmStep"], "to" | "priority"> & {
  to: AlarmState;
  priority: Priority;
};
export type SessionState = Schemas["SessionState"];
export type Condition = Schemas["PublicCondition"];
export type Address = Schemas["Address"];
export type Faults = Schemas["Faults"];
export type OfferedFault = Schemas["OfferedFault"];
export type StandingFault = Schemas["StandingFault"];
export type FaultArgument = Schemas["FaultArgument"];

/** What is known of the plant at one moment. */
export type Plant = Pick<
  Schemas["LastKnown"],
  | "state"
  | "since_s"
  | "sentence"
  | "ask"
  | "first_out"
  | "readings"
  | "contacts"
  | "derived"
  | "outputs"
  | "limits"
  | "run"
  | "alarms"
  | "owed"
  | "locked"
  | "allowed_commands"
  | "refused"
> &
  Partial<Pick<Schemas["LastKnown"], "given_reasons" | "run_takes_wh">>;

export type Question = Schemas["StartQuestion"];

export type Snapshot = Schemas["PublicSnapshot"];

/** The answer to a command: taken, refused with every reason, wanting the PIN, or never arrived. */
export type Answer =
  | { kind: "accepted"; told: string[] }
  | { kind: "refused"; reasons: string[] }
  | { kind: "pin"; wants: "session" | "again"; text: string | null }
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

function textsIn(listed: unknown): string[] {
  const all = Array.isArray(listed) ? (listed as unknown[]) : [];
  return all.filter((text): text is string => typeof text === "string");
}

/** The reasons in an answer, whichever of the server's forms they come in. */
function reasonsIn(said: Record<string, unknown>): string[] {
  const texts = textsIn(said["reasons"]);
  if (texts.length > 0) return texts;
  return typeof said["detail"] === "string" ? [said["detail"]] : [];
}

const PIN_AGAIN = new Set(["pin_again", "pin_wrong", "pin_wait"]);

function pinWanted(status: number, said: Record<string, unknown>): "session" | "again" | null {
  if (status === 401) return "session";
  const ids = Array.isArray(said["ids"]) ? (said["ids"] as unknown[]) : [];
  return ids.some((id) => typeof id === "string" && PIN_AGAIN.has(id)) ? "again" : null;
}

function posting(content: unknown, method = "POST"): RequestInit {
  return {
    method,
    headers: { "Content-Type": "application/json", "X-Halocline": "1" },
    body: JSON.stringify(content),
  };
}

/** What is no command to the plant, but is taken from the same people in the same way. */
const TOLD_TO_REPORT: Record<string, [path: string, method: string]> = {
  forbid_water: ["/plan/forbidden", "POST"],
  take_forecast: ["/plan/forecast", "POST"],
  forget_forecast: ["/plan/forecast", "DELETE"],
};

function ordering(command: string, args: Arguments): Promise<Response> {
  const [path, method] = TOLD_TO_REPORT[command] ?? ["/commands", "POST"];
  return call(path, posting(path === "/commands" ? { command, ...args } : args, method));
}

export async function sendCommand(command: string, args: Arguments = {}): Promise<Answer> {
  let response: Response;
  try {
    response = await ordering(command, args);
  } catch {
    return { kind: "failed", text: "It did not get through: the boat's computer does not answer." };
  }
  const said = await body(response);
  const reasons = reasonsIn(said);
  const wants = pinWanted(response.status, said);
  if (wants !== null) return { kind: "pin", wants, text: reasons[0] ?? null };
  if (response.ok && said["accepted"] === true) return { kind: "accepted", told: textsIn(said["told"]) };
  if (reasons.length > 0) return { kind: "refused", reasons };
  return { kind: "failed", text: `The boat's computer answered with error ${response.status}.` };
}

/** Opens a session. Null when the PIN was right, else what the server says. */
export async function openSession(pin: string, name = ""): Promise<string | null> {
  try {
    const response = await call("/session", posting({ pin, name }));
    if (response.ok) return null;
    const reasons = reasonsIn(await body(response));
    return (
      reasons[0] ?? (response.status === 429 ? "Too many tries. Wait a little." : "That is not the PIN.")
    );
  } catch {
    return "The boat's computer does not answer.";
  }
}

export async function closeSession(): Promise<void> {
  await call("/session", posting({}, "DELETE")).catch(() => undefined);
}

/** Thrown by the reading functions; `status` is null when nothing answered, `said` is the server's own reason. */
export class ReadError extends Error {
  readonly status: number | null;
  readonly said: string | null;

  constructor(status: number | null, said: string | null = null) {
    super(status === null ? "nothing answered" : `the server answered ${status}`);
    this.status = status;
    this.said = said;
  }
}

export async function read<T>(path: string): Promise<T> {
  let response: Response;
  try {
    response = await call(path);
  } catch {
    throw new ReadError(null);
  }
  if (!response.ok) throw new ReadError(response.status, reasonsIn(await body(response))[0] ?? null);
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
