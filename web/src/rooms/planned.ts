/** What can be said of water to come from what is measured, recorded and configured; nothing is guessed. */

import type { Plant, RunRecord } from "../api";
import { cost, type Cost, type Facts, type Need } from "../need";

const DAY_MS = 86_400_000;
const AMOUNTS_L = [20, 40, 60, 100];

export interface Tank {
  level_l: number;
  capacity_l: number;
}

/** What stands in the tank by its level sensor; null unless that reads well. */
export function tankOf(plant: Plant | null): Tank | null {
  const capacity_l = plant?.limits?.["tank_capacity_l"] ?? null;
  const level = plant?.readings["tank_fill"];
  if (capacity_l === null || capacity_l <= 0 || level?.quality !== "good" || level.value === null)
    return null;
  return { capacity_l, level_l: (capacity_l * Math.min(100, Math.max(0, level.value))) / 100 };
}

export interface Offer {
  need: Need;
  cost: Cost;
}

/** What usual amounts, and a full tank, would take now. What has no room in the tank is left out. */
export function offers(facts: Facts, now: Date): Offer[] {
  const needs: Need[] = [
    ...AMOUNTS_L.map((litres): Need => ({ kind: "litres", litres })),
    ...(facts.room_l !== null && facts.room_l >= 1 ? [{ kind: "full" } as const] : []),
  ];
  return needs
    .map((need) => ({ need, cost: cost(need, facts, now) }))
    .filter((offer) => offer.cost.problem === null);
}

export interface Made {
  runs: number;
  litres: number;
  energy_wh: number;
}

/** What the dated runs of the last days gave that are over. */
export function madeIn(days: number, runs: RunRecord[], now: Date): Made {
  const from = now.getTime() - days * DAY_MS;
  const recent = runs.filter(
    (run) => !run.going_on && run.started !== null && new Date(run.started).getTime() >= from,
  );
  return {
    runs: recent.length,
    litres: recent.reduce((sum, run) => sum + (run.litres ?? 0), 0),
    energy_wh: recent.reduce((sum, run) => sum + (run.energy_wh ?? 0), 0),
  };
}

/** Which figure the flow of a forecast comes from. */
export function flowRestsOn(plant: Plant | null, run: RunRecord | null): "now" | "run" | "nothing" {
  if ((plant?.derived["expected_flow_l_h"] ?? 0) > 0) return "now";
  return run === null ? "nothing" : "run";
}
