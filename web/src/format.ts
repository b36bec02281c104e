/** Numbers, spans of time and moments as people read them. */

import type { UnitChoice } from "./api";
import { measure, type Quantity } from "./units";

export const NOTHING = "–";

const THIN = "\u202f";

function grouped(digits: string): string {
  return digits.length < 5 ? digits : digits.replace(/\B(?=(\d{3})+(?!\d))/g, THIN);
}

export function number(value: number, decimals: number): string {
  const fixed = Math.abs(value).toFixed(decimals);
  const negative = value < 0 && Number(fixed) !== 0;
  const [whole = "0", fraction] = fixed.split(".");
  return (negative ? "−" : "") + grouped(whole) + (fraction === undefined ? "" : `.${fraction}`);
}

export interface Shown {
  text: string;
  unit: string;
}

export function shown(value: number | null | undefined, quantity: Quantity, units: UnitChoice): Shown {
  if (value === null || value === undefined || !Number.isFinite(value)) {
    return { text: NOTHING, unit: measure(0, quantity, units).unit };
  }
  const { value: converted, unit, decimals } = measure(value, quantity, units);
  return { text: number(converted, decimals), unit };
}

/** "55.0 bar"; a dash without unit when there is nothing. */
export function withUnit(value: number | null | undefined, quantity: Quantity, units: UnitChoice): string {
  const { text, unit } = shown(value, quantity, units);
  return text === NOTHING || unit === "" ? text : `${text}\u00a0${unit}`;
}

/** A limit or target, which people give in round numbers, without its unit: where two of a kind share one. */
export function bare(value: number, quantity: Quantity, units: UnitChoice): string {
  const { value: converted, decimals } = measure(value, quantity, units);
  const whole = Math.abs(converted - Math.round(converted)) < 0.005;
  return number(converted, whole ? 0 : decimals);
}

/** The same with it: "60 bar", not "60.0 bar". */
export function rounded(value: number, quantity: Quantity, units: UnitChoice): string {
  return `${bare(value, quantity, units)}\u00a0${measure(value, quantity, units).unit}`;
}

const WRITTEN: Record<string, Quantity> = { bar: "high_pressure", "°C": "temperature", L: "volume" };

/** A text with "{7 bar}" in it, the quantity in the units chosen aboard. */
export function inUnits(text: string, units: UnitChoice): string {
  return text.replace(/\{([\d.]+) (\S+?)\}/g, (_whole, value: string, unit: string) => {
    const quantity = WRITTEN[unit];
    return quantity === undefined ? `${value}\u00a0${unit}` : rounded(Number(value), quantity, units);
  });
}

const MINUTE = 60;
const HOUR = 3600;
const DAY = 86400;

/** "40 s", "12 min", "1 h 05 min", "3 d 4 h". */
export function duration(seconds: number): string {
  const s = Math.max(0, Math.round(seconds));
  if (s < 90) return `${s} s`;
  if (s < HOUR) return `${Math.round(s / MINUTE)} min`;
  const minutes = Math.round(s / MINUTE);
  if (minutes < 24 * 60) {
    const rest = minutes % 60;
    return `${Math.floor(minutes / 60)} h ${String(rest).padStart(2, "0")} min`;
  }
  const hours = Math.round(s / HOUR);
  return hours % 24 === 0 ? `${hours / 24} d` : `${Math.floor(s / DAY)} d ${hours % 24} h`;
}

function two(value: number): string {
  return String(value).padStart(2, "0");
}

/** "14:32" of a moment, or "14:32:07", in the device's own time zone. */
export function clock(moment: Date, seconds = false): string {
  const minute = `${two(moment.getHours())}:${two(moment.getMinutes())}`;
  return seconds ? `${minute}:${two(moment.getSeconds())}` : minute;
}

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/** "14:32" today, "3 Nov 14:32" this year, else with the year; a dash when unknown. With seconds where the order of
 * what happened matters. */
export function moment(iso: string | null | undefined, today: Date = new Date(), seconds = false): string {
  const when = iso === null || iso === undefined ? null : new Date(iso);
  if (when === null || Number.isNaN(when.getTime())) return NOTHING;
  if (when.toDateString() === today.toDateString()) return clock(when, seconds);
  const day = `${when.getDate()} ${MONTHS[when.getMonth()] ?? ""}`;
  const year = when.getFullYear() === today.getFullYear() ? "" : ` ${when.getFullYear()}`;
  return `${day}${year} ${clock(when, seconds)}`;
}

const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];

/** "Wed": the day of the week, on the device's clock. */
export function dayName(when: Date): string {
  return DAYS[when.getDay()] ?? "";
}

/** The noons ("12") and midnights (the day that begins) of the device's clock within a time. */
export function halfDays(from: string, to: string): { iso: string; label: string }[] {
  const found = [];
  const at = new Date(from);
  at.setMinutes(0, 0, 0);
  for (const end = Date.parse(to); at.getTime() < end; at.setHours(at.getHours() + 1)) {
    if (at.getHours() % 12 !== 0 || at.getTime() < Date.parse(from)) continue;
    found.push({ iso: at.toISOString(), label: at.getHours() === 0 ? dayName(at) : "12" });
  }
  return found;
}

/** "UTC", "UTC-01" or "UTC+05:45": the device's distance from UTC at that moment. */
export function zone(when: Date): string {
  const ahead = -when.getTimezoneOffset();
  if (ahead === 0) return "UTC";
  const minutes = Math.abs(ahead);
  const rest = minutes % 60 === 0 ? "" : `:${two(minutes % 60)}`;
  return `UTC${ahead < 0 ? "-" : "+"}${two(Math.floor(minutes / 60))}${rest}`;
}

/** "14 Jan 2026 12:15 UTC-01", for what is printed or shown to others; a dash when unknown. */
export function stamp(iso: string | null | undefined): string {
  const when = iso === null || iso === undefined ? null : new Date(iso);
  if (when === null || Number.isNaN(when.getTime())) return NOTHING;
  const day = `${when.getDate()} ${MONTHS[when.getMonth()] ?? ""} ${when.getFullYear()}`;
  return `${day} ${clock(when)} ${zone(when)}`;
}

/** Words for a name made for programs: "filter_changed" becomes "filter changed". */
export function plain(name: string): string {
  return name.replace(/_/g, " ");
}

export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

const NUMBER_THEN_UNIT = /(\d) (?=(?:bar|psi|L|gal|mg|µS|°[CF]|V|A|W|Wh|Hz|s|min|h|d|days|%)(?![A-Za-z]))/g;

/** A text whose numbers keep their units beside them at the end of a line. */
export function unbroken<Text extends string | null>(text: Text): Text {
  return (text === null ? text : text.replace(NUMBER_THEN_UNIT, "$1\u00a0")) as Text;
}
