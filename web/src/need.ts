/** From what is needed to how long it takes and what it costs. */

import type { Arguments, Plant, Question, RunRecord } from "./api";

export type Need = { kind: "litres"; litres: number } | { kind: "until"; at: Date } | { kind: "full" };

/** What a forecast can rest on; null where nobody knows. */
export interface Facts {
  flow_l_h: number | null;
  power_w: number | null;
  flush_l: number | null;
  /** From the press of Start until the tank opens. */
  before_s: number;
  room_l: number | null;
}

export interface Cost {
  /** Into the tank; null when unknown. */
  litres: number | null;
  /** From the press of Start to the end of making water. */
  seconds: number | null;
  energy_wh: number | null;
  flush_l: number | null;
  ends: Date | null;
  /** Why this need cannot be asked for; null when it can. */
  problem: string | null;
}

/** The statements to confirm before a start, for a server that does not send its own. */
export const USUAL_QUESTIONS: Question[] = [
  { id: "seacocks_open", text: "Intake and discharge seacocks are open" },
  { id: "strainer_clean", text: "The strainer is clean and its lid tight" },
  { id: "sea_clean", text: "No oil, fuel smell, sewage, bloom or silt in the sea here" },
  { id: "tank_chosen", text: "The right tank is chosen and clean" },
];

/** Priming, raising the pressure and the wait overboard, while no run is on record to say better. */
const BEFORE_S = 240;

/** A run shorter than this says little about the flow. */
const TELLING_S = 60;

type Telling = Pick<RunRecord, "litres" | "seconds" | "producing_s">;

export const NO_FORECAST =
  "A forecast comes after the first run that puts water into the tank for a minute: only a run shows the flow.";

/** The newest run that made water long enough to tell its flow. */
export function tellingRun<T extends Telling>(runs: T[]): T | null {
  return runs.find((run) => (run.producing_s ?? 0) >= TELLING_S && (run.litres ?? 0) > 0) ?? null;
}

function room(plant: Plant | null): number | null {
  const capacity = plant?.limits?.["tank_capacity_l"];
  const level = plant?.readings["tank_fill"];
  if (typeof capacity !== "number" || level?.quality !== "good" || level.value === null) return null;
  return Math.max(0, capacity * (1 - level.value / 100));
}

/** What is known now, and from the last telling run where the plant at rest cannot say. */
export function factsOf(plant: Plant | null, run: Telling | null): Facts {
  const expected = plant?.derived["expected_flow_l_h"] ?? null;
  const made = run === null ? null : ((run.litres ?? 0) / (run.producing_s ?? 1)) * 3600;
  const before_s = run === null ? BEFORE_S : Math.max(0, (run.seconds ?? 0) - (run.producing_s ?? 0));
  return {
    flow_l_h: expected !== null && expected > 0 ? expected : made,
    power_w: plant?.limits?.["pump_power_w"] ?? null,
    flush_l: plant?.limits?.["flush_l"] ?? null,
    before_s,
    room_l: room(plant),
  };
}

function litresFor(need: Need, { flow_l_h, before_s, room_l }: Facts, now: Date): number | null {
  if (need.kind === "litres") return need.litres;
  if (need.kind === "full") return room_l;
  const seconds = (need.at.getTime() - now.getTime()) / 1000 - before_s;
  return flow_l_h === null ? null : Math.max(0, (seconds / 3600) * flow_l_h);
}

function secondsFor(
  need: Need,
  litres: number | null,
  { flow_l_h, before_s }: Facts,
  now: Date,
): number | null {
  if (need.kind === "until") return Math.max(0, (need.at.getTime() - now.getTime()) / 1000);
  return litres === null || flow_l_h === null ? null : before_s + (litres / flow_l_h) * 3600;
}

function problemWith(need: Need, litres: number | null, room_l: number | null): string | null {
  if (need.kind === "litres" && !(need.litres > 0)) return "Say how much water is needed.";
  if (need.kind === "until" && litres !== null && litres <= 0) {
    return "That is too soon: the tank would not have opened by then.";
  }
  if (need.kind === "litres" && room_l !== null && need.litres > room_l + 0.5) {
    return "The tank has not that much room.";
  }
  return null;
}

export function cost(need: Need, facts: Facts, now: Date): Cost {
  const litres = litresFor(need, facts, now);
  const seconds = secondsFor(need, litres, facts, now);
  const { power_w, flush_l, room_l } = facts;
  return {
    litres,
    seconds,
    energy_wh: seconds === null || power_w === null ? null : (power_w * seconds) / 3600,
    flush_l,
    ends: seconds === null ? null : new Date(now.getTime() + seconds * 1000),
    problem: problemWith(need, litres, room_l),
  };
}

/** The next time a clock shows "18:00": today, or tomorrow when that has passed. */
export function nextTime(text: string, now: Date): Date | null {
  const found = /^(\d{1,2}):(\d{2})$/.exec(text);
  if (found === null) return null;
  const at = new Date(now);
  at.setHours(Number(found[1]), Number(found[2]), 0, 0);
  if (at <= now) at.setDate(at.getDate() + 1);
  return at;
}

/** The arguments of the start command; without any the run ends when the tank is full. */
export function startArguments(need: Need, confirmed: string[]): Arguments {
  const seen = confirmed.length > 0 ? { confirmed } : {};
  if (need.kind === "litres") return { litres: Math.round(need.litres * 10) / 10, ...seen };
  if (need.kind === "until") return { until: need.at.toISOString(), ...seen };
  return seen;
}
