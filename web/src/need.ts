/** From what is needed to how long it takes and what it costs. */

import type { Arguments, Plant, StartFacts } from "./api";

export type Need =
  | { kind: "litres"; litres: number }
  | { kind: "until"; at: Date }
  | { kind: "full" };

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

/** Priming, raising the pressure and the wait overboard, where the server says nothing better. */
const BEFORE_S = 240;

export function expectedFlow(plant: Plant | null, facts: StartFacts | null | undefined): number | null {
  const flow = facts?.flow_l_h ?? plant?.derived?.["expected_flow_l_h"] ?? null;
  return flow !== null && flow > 0 ? flow : null;
}

function needed(need: Need, flow: number | null, before_s: number, room_l: number | null, now: Date): number | null {
  if (need.kind === "litres") return need.litres;
  if (need.kind === "full") return room_l;
  const seconds = (need.at.getTime() - now.getTime()) / 1000 - before_s;
  return flow === null ? null : Math.max(0, (seconds / 3600) * flow);
}

function problemWith(need: Need, litres: number | null, room_l: number | null): string | null {
  if (need.kind === "litres" && !(need.litres > 0)) return "Say how much water is needed.";
  if (need.kind === "until" && litres !== null && litres <= 0) {
    return "That is too soon: the tank would not have opened by then.";
  }
  if (litres !== null && room_l !== null && litres > room_l + 0.5 && need.kind === "litres") {
    return "The tank has not that much room.";
  }
  return null;
}

export function cost(need: Need, plant: Plant | null, facts: StartFacts | null | undefined, now: Date): Cost {
  const flow = expectedFlow(plant, facts);
  const before_s = facts?.before_s ?? BEFORE_S;
  const room_l = facts?.tank_room_l ?? null;
  const litres = needed(need, flow, before_s, room_l, now);
  const seconds =
    need.kind === "until"
      ? Math.max(0, (need.at.getTime() - now.getTime()) / 1000)
      : litres === null || flow === null
        ? null
        : before_s + (litres / flow) * 3600;
  const power_w = facts?.power_w ?? null;
  return {
    litres,
    seconds,
    energy_wh: seconds === null || power_w === null ? null : (power_w * seconds) / 3600,
    flush_l: facts?.flush_l ?? null,
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
