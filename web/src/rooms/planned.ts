/** What is in the tank, and what the last days gave: measured and recorded. */

import type { Plant, RunRecord } from "../api";

const DAY_MS = 86_400_000;

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
