import { expect, test } from "vitest";
import { elapsed_s, freshness, view } from "../src/age";
import { ago, fixture, heard, NOW } from "./show";

test("numbers are fresh to 3 s, old to 10 s, then dead; of unknown age they are dead", () => {
  expect([0, 3, 3.1, 10, 10.1, null].map(freshness)).toEqual([
    "fresh",
    "fresh",
    "old",
    "old",
    "dead",
    "dead",
  ]);
});

test("of two clocks the one that says older counts, and a clock set back says nothing", () => {
  const from = { steady_ms: 1000, wall_ms: 100_000 };
  expect(elapsed_s(from, { steady_ms: 3000, wall_ms: 100_000 })).toBe(2);
  expect(elapsed_s(from, { steady_ms: 1000, wall_ms: 160_000 })).toBe(60);
  expect(elapsed_s(from, { steady_ms: 1000, wall_ms: 50_000 })).toBe(0);
});

test("a fresh snapshot is live", () => {
  const seen = view(heard(fixture("producing"), 0.2), NOW);
  expect(seen.link.kind).toBe("live");
  expect(seen.past).toBe(false);
});

test("silence of the server turns live into late and then into the past, without any error event", () => {
  expect(view(heard(fixture("producing"), 5), NOW).link).toEqual({ kind: "late", age_s: 5.1 });
  const lost = view(heard(fixture("producing"), 20), NOW);
  expect(lost.link).toEqual({ kind: "page_lost", age_s: 20 });
  expect(lost.past).toBe(true);
  expect(lost.plant?.state).toBe("producing");
});

test("a lost control shows what was last known, as past, with its whole age", () => {
  const lost = view(heard(fixture("lost"), 2), NOW);
  expect(lost.link).toEqual({ kind: "control_lost", age_s: 136 });
  expect(lost.past).toBe(true);
  expect(lost.plant?.run?.litres).toBe(41.2);
});

test("a control that never spoke leaves nothing to show", () => {
  const lost = view(heard(fixture("config_wrong")), NOW);
  expect(lost.plant).toBeNull();
  expect(lost.lag_s).toBe(Infinity);
});

test("before the first word the page seeks, and after a while it says that nothing answers", () => {
  expect(view({ ...heard(null), began: ago(1) }, NOW).link.kind).toBe("seeking");
  expect(view({ ...heard(null), began: ago(8) }, NOW).link.kind).toBe("unreachable");
});
