/** What the channels are called on the page, and what kind of quantity each is. */

import type { Quantity } from "./units";
import { capital, plain } from "./format";

export interface Named {
  label: string;
  quantity: Quantity;
}

export const CHANNELS: Record<string, Named> = {
  product_tds_mg_l: { label: "Salt in product", quantity: "salt" },
  product_flow: { label: "Product flow", quantity: "flow" },
  vessel_pressure: { label: "Membrane pressure", quantity: "high_pressure" },
  feed_pressure: { label: "Pump inlet pressure", quantity: "pressure" },
  sea_temperature: { label: "Sea temperature", quantity: "temperature" },
  product_conductivity: { label: "Product conductivity", quantity: "conductivity" },
  filter_inlet_pressure: { label: "Pressure before the filters", quantity: "pressure" },
  filter_drop_bar: { label: "Drop over the filters", quantity: "pressure" },
  brine_pressure: { label: "Brine pressure", quantity: "high_pressure" },
  brine_flow: { label: "Brine flow", quantity: "flow" },
  flush_flow: { label: "Flush flow", quantity: "flow" },
  product_pressure: { label: "Product pressure", quantity: "pressure" },
  recovery: { label: "Recovery", quantity: "fraction" },
  specific_energy_wh_l: { label: "Energy per volume", quantity: "specific_energy" },
  expected_flow_l_h: { label: "Expected flow", quantity: "flow" },
  expected_tds_mg_l: { label: "Expected salt", quantity: "salt" },
  battery_voltage: { label: "Battery voltage", quantity: "voltage" },
  battery_current: { label: "Battery current", quantity: "current" },
  battery_charge_percent: { label: "Battery charge", quantity: "percent" },
  motor_current: { label: "Motor current", quantity: "current" },
  pump_motor_temperature: { label: "Motor temperature", quantity: "temperature" },
  tank_fill: { label: "Tank level", quantity: "percent" },
};

export function named(channel: string): Named {
  return CHANNELS[channel] ?? { label: capital(plain(channel)), quantity: "plain" };
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
