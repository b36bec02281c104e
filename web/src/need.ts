/** What is needed: how it is asked of the server, and how it becomes a start. What it costs only the server says. */

import type { Arguments, Question } from "./api";
import { clock } from "./format";

export type Need = { kind: "litres"; litres: number } | { kind: "until"; at: Date } | { kind: "full" };

/** The statements to confirm before a start, for a server that does not send its own. */
export const USUAL_QUESTIONS: Question[] = [
  { id: "seacocks_open", text: "Intake and discharge seacocks are open" },
  { id: "strainer_clean", text: "The strainer is clean and its lid tight" },
  { id: "sea_clean", text: "No oil, fuel smell, sewage, bloom or silt in the sea here" },
  { id: "tank_chosen", text: "The right tank is chosen and clean" },
];

/** Long enough for a run to be worth its start, short enough to be meant. */
const USUAL_HOURS = 2;

/** The next time a clock shows "18:00": today, or tomorrow when that has passed. */
export function nextTime(text: string, now: Date): Date | null {
  const found = /^(\d{1,2}):(\d{2})$/.exec(text);
  if (found === null) return null;
  const at = new Date(now);
  at.setHours(Number(found[1]), Number(found[2]), 0, 0);
  if (at <= now) at.setDate(at.getDate() + 1);
  return at;
}

/** A time to begin with, never one that is past: two hours from now, at a full quarter. */
export function usualTime(now: Date): string {
  const at = new Date(now.getTime() + USUAL_HOURS * 3_600_000);
  at.setMinutes(Math.floor(at.getMinutes() / 15) * 15, 0, 0);
  return clock(at);
}

function asked(need: Need): Arguments {
  if (need.kind === "litres") return { litres: Math.round(need.litres * 10) / 10 };
  return need.kind === "until" ? { until: need.at.toISOString() } : {};
}

/** Where the server says what a start for this need would come to; null for what is no need. */
export function offerPath(need: Need | null): string | null {
  if (need === null || (need.kind === "litres" && !(need.litres > 0))) return null;
  const query = new URLSearchParams(Object.entries(asked(need)).map(([key, value]) => [key, String(value)]));
  return `/offer?${query.toString()}`;
}

/** The arguments of the start command; without any the run ends when the tank is full. */
export function startArguments(need: Need, confirmed: string[]): Arguments {
  return { ...asked(need), ...(confirmed.length > 0 ? { confirmed } : {}) };
}
