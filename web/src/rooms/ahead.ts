/** Where things stand in the drawing of the days ahead: all of it in the drawing's own units. */
import { halfDays } from "../format";

export const WIDTH = 328;
export const AXIS = 16;
export const BAND = 74;
export const GAP = 22;
export const SUN = 22;

export interface Strip {
  top: number;
  height: number;
}

export const SUN_STRIP: Strip = { top: AXIS, height: SUN };
export const TANK: Strip = { top: SUN_STRIP.top + SUN + GAP, height: BAND };
export const BATTERY: Strip = { top: TANK.top + BAND + GAP, height: BAND };
export const HEIGHT = BATTERY.top + BAND + 4;

/** From a moment to its place on the time axis, held within the drawing. */
export function across(iso: string, from: string, to: string): number {
  const [at, begin, end] = [iso, from, to].map((each) => Date.parse(each)) as [number, number, number];
  return (Math.min(Math.max((at - begin) / (end - begin), 0), 1) || 0) * WIDTH;
}

export function height(value: number, most: number, strip: Strip): number {
  return strip.top + strip.height * (1 - Math.min(Math.max(value / most, 0), 1));
}

function point(x: number, y: number): string {
  return `${x.toFixed(1)} ${y.toFixed(1)}`;
}

/** The points of a course that begins with what is now and has one more for the end of each step. */
function points(now: number, values: number[], most: number, strip: Strip): string[] {
  return [now, ...values].map((value, i) =>
    point((i / Math.max(values.length, 1)) * WIDTH, height(value, most, strip)),
  );
}

export function line(now: number, values: number[], most: number, strip: Strip): string {
  return `M${points(now, values, most, strip).join("L")}`;
}

/** What lies between two courses. */
export function between(now: number, one: number[], other: number[], most: number, strip: Strip): string {
  const back = points(now, other, most, strip).reverse();
  return `M${[...points(now, one, most, strip), ...back].join("L")}Z`;
}

/** The sun as steps, hour by hour. */
export function sunlight(watts: number[], hours: number): string {
  const most = Math.max(...watts, 1);
  const bottom = SUN_STRIP.top + SUN_STRIP.height;
  const steps = watts.map((value, i) => {
    const y = height(value, most, SUN_STRIP);
    return `L${point((i / hours) * WIDTH, y)}L${point(((i + 1) / hours) * WIDTH, y)}`;
  });
  return `M${point(0, bottom)}${steps.join("")}L${point((watts.length / hours) * WIDTH, bottom)}Z`;
}

export interface Mark {
  x: number;
  label: string;
}

/** Noons and midnights on the device's clock. */
export function marks(from: string, to: string): Mark[] {
  return halfDays(from, to).map(({ iso, label }) => ({ x: across(iso, from, to), label }));
}
