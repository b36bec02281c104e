/** Where water truly moves, judged from measurements only. A pump that is switched on proves nothing. */

import { freshness, type View } from "./age";
import type { Plant, Reading } from "./api";

export interface Moving {
  feed: boolean;
  brine: boolean;
  product: boolean;
  flush: boolean;
}

export type Fork = "tank" | "overboard" | "between" | "unknown";

/** Less than this a turbine only dribbles. */
const MOVING_L_H = 1;

const STILL: Moving = { feed: false, brine: false, product: false, flush: false };

export function ageOf(reading: Reading | undefined, lag_s: number): number | null {
  return reading === undefined || reading.age_s === null ? null : reading.age_s + lag_s;
}

/** The value of a channel that may be believed now, else null. */
export function believed(view: View, channel: string): number | null {
  const reading = view.plant?.readings?.[channel];
  if (view.past || reading === undefined || reading.quality !== "good") return null;
  return freshness(ageOf(reading, view.lag_s)) === "dead" ? null : reading.value;
}

export function moving(view: View): Moving {
  if (view.past) return STILL;
  const flows = (channel: string) => (believed(view, channel) ?? 0) > MOVING_L_H;
  const product = flows("product_flow");
  const brine = flows("brine_flow");
  const flush = flows("flush_flow");
  // Product and brine can only have come through the feed line; flush water comes from the other side.
  return { product, brine, flush, feed: (product || brine) && !flush && view.plant?.state !== "flushing" };
}

/** Where product goes now, and whether position switches say so or only the valve's coil. */
export function fork(plant: Plant | null): { at: Fork; measured: boolean } {
  const atTank = plant?.contacts?.["diverter_at_tank"];
  const overboard = plant?.contacts?.["diverter_overboard"];
  if (typeof atTank === "boolean" && typeof overboard === "boolean") {
    if (atTank === overboard) return { at: "between", measured: true };
    return { at: atTank ? "tank" : "overboard", measured: true };
  }
  if (typeof atTank === "boolean") return { at: atTank ? "tank" : "overboard", measured: true };
  if (typeof overboard === "boolean") return { at: overboard ? "overboard" : "tank", measured: true };
  const coil = plant?.outputs?.["product_to_tank"];
  if (typeof coil === "boolean") return { at: coil ? "tank" : "overboard", measured: false };
  return { at: "unknown", measured: false };
}
