/** How old a number may be before the page shows it. */

import type { Plant, Snapshot } from "./api";

export type Freshness = "fresh" | "old" | "dead";

export const OLD_S = 3;
export const DEAD_S = 10;

export function freshness(age_s: number | null): Freshness {
  if (age_s === null || age_s > DEAD_S) return "dead";
  return age_s > OLD_S ? "old" : "fresh";
}

/** What the page has heard, and when by two clocks: each can stand still or jump, so the older one counts. */
export interface Seen {
  snapshot: Snapshot | null;
  heard: Instant | null;
  began: Instant;
  wantsPin: boolean;
}

export interface Instant {
  steady_ms: number;
  wall_ms: number;
}

export function instant(): Instant {
  return { steady_ms: performance.now(), wall_ms: Date.now() };
}

export function elapsed_s(from: Instant, to: Instant): number {
  return Math.max(0, to.steady_ms - from.steady_ms, to.wall_ms - from.wall_ms) / 1000;
}

export type Link =
  | { kind: "seeking" }
  | { kind: "unreachable" }
  | { kind: "live" }
  | { kind: "late"; age_s: number }
  | { kind: "page_lost"; age_s: number }
  | { kind: "control_lost"; age_s: number | null };

export interface View {
  link: Link;
  plant: Plant | null;
  /** Nothing here is news: it is the last that was known. */
  past: boolean;
  /** Seconds to add to every age the snapshot carries. */
  lag_s: number;
}

const PATIENCE_S = 4;

function lastKnown(snapshot: Snapshot): Plant | null {
  const last = snapshot.last;
  if (last === null || last === undefined) return null;
  return { ...snapshot, ...last };
}

/** What may be shown of what was heard, at this moment. */
export function view(seen: Seen, now: Instant): View {
  const { snapshot, heard } = seen;
  if (snapshot === null || heard === null) {
    const waited_s = elapsed_s(seen.began, now);
    return {
      link: { kind: waited_s < PATIENCE_S ? "seeking" : "unreachable" },
      plant: null,
      past: true,
      lag_s: waited_s,
    };
  }
  const age_s = elapsed_s(heard, now);
  const controlLost = snapshot.link.control === "lost";
  const plant = controlLost ? lastKnown(snapshot) : snapshot;
  if (age_s > DEAD_S) return { link: { kind: "page_lost", age_s }, plant, past: true, lag_s: age_s };
  if (controlLost) {
    const control_s = snapshot.link.age_s;
    const known_s = control_s === null ? null : control_s + age_s;
    return { link: { kind: "control_lost", age_s: known_s }, plant, past: true, lag_s: known_s ?? Infinity };
  }
  const behind_s = age_s + (snapshot.link.age_s ?? 0);
  if (behind_s > OLD_S)
    return { link: { kind: "late", age_s: behind_s }, plant, past: false, lag_s: behind_s };
  return { link: { kind: "live" }, plant, past: false, lag_s: behind_s };
}
