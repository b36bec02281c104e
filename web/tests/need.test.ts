import { expect, test } from "vitest";
import { nextTime, offerPath, startArguments, usualTime } from "../src/need";

const NOON = new Date(2026, 4, 14, 12, 0);

test("a clock time is today, or tomorrow when it has passed", () => {
  expect(nextTime("18:00", NOON)).toEqual(new Date(2026, 4, 14, 18, 0));
  expect(nextTime("06:30", NOON)).toEqual(new Date(2026, 4, 15, 6, 30));
  expect(nextTime("soon", NOON)).toBeNull();
});

test("the time to begin with is never one that is past, at whatever hour it is asked", () => {
  for (let minutes = 0; minutes < 24 * 60; minutes += 7) {
    const now = new Date(NOON.getTime() + minutes * 60_000);
    const ahead_ms = nextTime(usualTime(now), now)!.getTime() - now.getTime();
    expect(ahead_ms).toBeGreaterThan(1.7 * 3_600_000);
    expect(ahead_ms).toBeLessThanOrEqual(2 * 3_600_000);
  }
});

test("the need becomes the arguments of the command", () => {
  expect(startArguments({ kind: "litres", litres: 60.04 }, ["tank"])).toEqual({
    litres: 60,
    confirmed: ["tank"],
  });
  expect(startArguments({ kind: "full" }, [])).toEqual({});
  const at = new Date(Date.UTC(2026, 4, 14, 18, 0));
  expect(startArguments({ kind: "until", at }, [])).toEqual({ until: "2026-05-14T18:00:00.000Z" });
});

test("the offer is asked for the very need that the start would have", () => {
  expect(offerPath({ kind: "litres", litres: 60.04 })).toBe("/offer?litres=60");
  expect(offerPath({ kind: "full" })).toBe("/offer?");
  const at = new Date(Date.UTC(2026, 4, 14, 18, 0));
  expect(offerPath({ kind: "until", at })).toBe("/offer?until=2026-05-14T18%3A00%3A00.000Z");
  for (const litres of [NaN, 0, -1]) expect(offerPath({ kind: "litres", litres })).toBeNull();
  expect(offerPath(null)).toBeNull();
});
