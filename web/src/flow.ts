/** Where water moves: measured, or assumed where no meter is fitted. A pump that is switched on proves nothing. */

import { freshness, type View } from "./age";
import type { Plant, Reading } from "./api";

/** How it is known that water moves. Assumed: nothing is fitted that would measure it there. */
export type Flow = "measured" | "assumed" | null;

export interface Moving {
  feed: Flow;
  brine: Flow;
  product: Flow;
  flush: Flow;
}

export type Fork = "tank" | "overboard" | "between" | "unknown";

/** Less than this a turbine only dribbles. */
const MOVING_L_H = 1;

const STILL: Moving = { feed: null, brine: null, product: null, flush: null };

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
  const { plant } = view;
  if (view.past || plant === null) return STILL;
  const measured = (channel: string): Flow =>
    (believed(view, channel) ?? 0) > MOVING_L_H ? "measured" : null;
  // A meter that is fitted and faulty allows no assumption.
  const assumed = (channel: string, likely: boolean): Flow =>
    likely && plant.readings?.[channel] === undefined ? "assumed" : null;
  const product = measured("product_flow");
  const metered = measured("brine_flow");
  const flush = measured("flush_flow") ?? assumed("flush_flow", plant.outputs?.["flush_valve"] === true);
  const flushing = flush !== null || plant.state === "flushing";
  // Product and brine can only have come through the feed line; flush water comes from the other side.
  const through = flushing ? null : (product ?? metered);
  const feed = through ?? assumed("brine_flow", !flushing && plant.outputs?.["feed_pump"] === true);
  // A pump at pressure always leaves most of its water as brine.
  const brine = metered ?? assumed("brine_flow", feed !== null || flush !== null);
  return { product, brine, flush, feed };
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
