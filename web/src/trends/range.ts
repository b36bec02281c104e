/** The stretch of time the trends show. */

export interface Range {
  from_s: number;
  to_s: number;
  /** Ends now and moves on with the clock. */
  live: boolean;
}

export const SPANS: [label: string, seconds: number][] = [
  ["10 min", 600],
  ["1 h", 3600],
  ["6 h", 21_600],
  ["24 h", 86_400],
  ["7 d", 604_800],
  ["30 d", 2_592_000],
  ["1 y", 31_557_600],
  ["5 y", 157_788_000],
];

const SHORTEST_S = 60;
const LONGEST_S = 10 * 31_557_600;

export function liveRange(span_s: number, now_s: number): Range {
  return { from_s: now_s - span_s, to_s: now_s, live: true };
}

export function spanOf(range: Range): number {
  return range.to_s - range.from_s;
}

/** Moves by a share of the span; never beyond now, where it becomes live again. */
export function shifted(range: Range, share: number, now_s: number): Range {
  const span = spanOf(range);
  const to_s = range.to_s + span * share;
  return to_s >= now_s ? liveRange(span, now_s) : { from_s: to_s - span, to_s, live: false };
}

/** A picked stretch, kept between one minute and ten years. */
export function picked(from_s: number, to_s: number, now_s: number): Range {
  const span = Math.min(LONGEST_S, Math.max(SHORTEST_S, to_s - from_s));
  const middle = (from_s + to_s) / 2;
  const end = middle + span / 2;
  return end >= now_s ? liveRange(span, now_s) : { from_s: end - span, to_s: end, live: false };
}

/** How often a live trend is worth fetching again. */
export function refresh_s(span_s: number): number {
  return Math.min(300, Math.max(3, span_s / 300));
}

/** Room above and below, and never so close that noise looks like an event. */
export function yRange(low: number | null, high: number | null, limit: number | undefined): [number, number] {
  if (low === null || high === null) return [0, limit ?? 1];
  const top = limit !== undefined && limit > high && limit < high + (high - low) * 2 + 1 ? limit : high;
  const middle = (low + top) / 2;
  const least = Math.max(1, Math.abs(middle) * 0.05);
  const half = Math.max((top - low) * 0.58, least / 2);
  return [low >= 0 ? Math.max(0, middle - half) : middle - half, middle + half];
}
