/** A figure of how the plant ages over time, in the units chosen aboard, as a chart wants it. */

import type { Schemas, UnitChoice } from "../api";
import { number } from "../format";
import type { ChartProps } from "../trends/Chart";
import type { Range } from "../trends/range";
import { measure } from "../units";

export type Figure = Schemas["HealthFigure"];

export type Drawn = Pick<ChartProps, "series" | "limit" | "y"> & { range: Range; words: string };

const DAY_S = 86_400;
const ROOM = 0.12;

/** How far the limit may lie beyond the band and still be drawn: further off, the band would be a line. */
const REACH = 3;

function known(values: (number | null)[]): number[] {
  return values.filter((value): value is number => value !== null);
}

/** Least and most of what is drawn: the band, no change at all, and the limit where it is near. */
function upright(values: number[], limit: number): [number, number] {
  const low = Math.min(0, ...values);
  const high = Math.max(0, ...values);
  const near = Math.max(high - low, Math.abs(limit) / 4);
  const beyond = limit < low ? low - limit : Math.max(0, limit - high);
  const shown = beyond <= REACH * near;
  const least = shown ? Math.min(low, limit) : low;
  const most = shown ? Math.max(high, limit) : high;
  const room = ROOM * Math.max(most - least, near);
  return [least < 0 ? least - room : 0, most > 0 ? most + room : 0];
}

/** Null while fewer than two points are known: a point is no course. */
export function drawn({ name, unit, threshold, band }: Figure, units: UnitChoice): Drawn | null {
  const quantity = unit === "1" ? "fraction" : "pressure";
  const convert = (value: number | null) => (value === null ? null : measure(value, quantity, units).value);
  const shown = measure(threshold, quantity, units);
  const mean = band.estimate.map(convert);
  const min = band.low.map(convert);
  const max = band.high.map(convert);
  const points = known(mean);
  const first = band.at_s[0];
  const last = band.at_s[band.at_s.length - 1];
  if (points.length < 2 || first === undefined || last === undefined) return null;
  const digits = Number.isInteger(shown.value) ? 0 : 1;
  return {
    series: { channel: name, unit: shown.unit, t: band.at_s, min, mean, max },
    range: { from_s: first, to_s: Math.max(last, first + DAY_S), live: false },
    limit: {
      value: shown.value,
      label: `act at ${number(shown.value, Math.abs(shown.value) < 1 ? 2 : digits)} ${shown.unit}`,
    },
    y: upright([...known(min), ...known(max)], shown.value),
    words: `${name} over time: ${points.length} points, now ${number(points[points.length - 1] ?? 0, 2)} ${shown.unit}`,
  };
}
