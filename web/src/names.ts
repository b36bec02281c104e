/** What the channels are called on the page, and what kind of quantity each is. */

import type { Quantity } from "./units";
import { SENSORS } from "./generated/channels";
import { capital, plain } from "./format";

export interface Named {
  label: string;
  quantity: Quantity;
}

const DERIVED: Record<string, Named> = {
  product_tds_mg_l: { label: "Salt in product", quantity: "salt" },
  filter_drop_bar: { label: "Drop over the filters", quantity: "pressure" },
  recovery: { label: "Recovery", quantity: "fraction" },
  specific_energy_wh_l: { label: "Energy per volume", quantity: "specific_energy" },
  expected_flow_l_h: { label: "Expected flow", quantity: "flow" },
  expected_tds_mg_l: { label: "Expected salt", quantity: "salt" },
};

const ALL: Record<string, Named> = { ...SENSORS, ...DERIVED };

/** What can be drawn, what is looked at most first. */
export const CHANNELS: Record<string, Named> = {
  ...pick("product_tds_mg_l", "product_flow"),
  ...ALL,
};

function pick(...channels: string[]): Record<string, Named> {
  return Object.fromEntries(channels.map((channel) => [channel, named(channel)]));
}

export function named(channel: string): Named {
  return ALL[channel] ?? { label: capital(plain(channel)), quantity: "plain" };
}

const QUALITY_WORDS: Record<string, string> = {
  under: "below its range",
  over: "above its range",
  open: "no signal",
  short: "short circuit",
  stale: "too old",
  stuck: "stuck",
  implausible: "not believable",
  missing: "no reading",
};

/** Why a reading is not good, in words; null for a good one. */
export function qualityWords(quality: string): string | null {
  return QUALITY_WORDS[quality] ?? null;
}
