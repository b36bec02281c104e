/** Turns what the server knows into labels and values, by the units its names carry. */

import type { UnitChoice } from "../api";
import { capital, duration, moment, number, plain, withUnit } from "../format";
import { CHANNELS } from "../names";
import type { Quantity } from "../units";

const BY_ENDING: [ending: string, quantity: Quantity][] = [
  ["_wh_l", "specific_energy"],
  ["_mg_l", "salt"],
  ["_us_cm", "conductivity"],
  ["_l_h", "flow"],
  ["_bar_s", "pressure_rate"],
  ["_bar", "pressure"],
  ["_wh", "energy"],
  ["_percent", "percent"],
  ["_c", "temperature"],
  ["_v", "voltage"],
  ["_a", "current"],
  ["_w", "power"],
  ["_l", "volume"],
];

const ABBREVIATED: [RegExp, string][] = [
  [/\btds\b/g, "salt"],
  [/\bpsi\b/g, "psi"],
];

export interface Fact {
  label: string;
  value: string;
}

function label(name: string): string {
  const words = ABBREVIATED.reduce((text, [from, to]) => text.replace(from, to), plain(name));
  return capital(words);
}

function seconds(name: string): [string, number] | null {
  for (const [ending, factor] of [
    ["_s", 1],
    ["_min", 60],
    ["_h", 3600],
    ["_days", 86400],
    ["_d", 86400],
  ] as const) {
    if (name.endsWith(ending)) return [name.slice(0, -ending.length), factor];
  }
  return null;
}

const ISO = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}/;

function numeric(name: string, value: number, units: UnitChoice): Fact {
  const channel = CHANNELS[name];
  if (channel !== undefined) return { label: channel.label, value: withUnit(value, channel.quantity, units) };
  for (const [ending, quantity] of BY_ENDING) {
    if (name.endsWith(ending)) {
      return { label: label(name.slice(0, -ending.length)), value: withUnit(value, quantity, units) };
    }
  }
  const time = seconds(name);
  if (time !== null) return { label: label(time[0]), value: duration(value * time[1]) };
  const share = /_change$|^recovery$|_passage$/.test(name);
  if (share) return { label: label(name), value: `${number(value * 100, 1)}\u00a0%` };
  return { label: label(name), value: number(value, Number.isInteger(value) ? 0 : 2) };
}

/** One named value as a label and a text; null for what is empty or has parts of its own. */
export function fact(name: string, value: unknown, units: UnitChoice): Fact | null {
  if (typeof value === "number") return numeric(name, value, units);
  if (typeof value === "boolean") return { label: label(name), value: value ? "yes" : "no" };
  if (typeof value === "string" && value !== "") {
    return { label: label(name), value: ISO.test(value) ? moment(value) : value };
  }
  return null;
}
