import { expect, test } from "vitest";
import { view } from "../src/age";
import type { Snapshot } from "../src/api";
import { believed, fork, moving } from "../src/flow";
import { fixture, FIXTURES, heard, NOW } from "./show";

function seen(snapshot: Snapshot, age_s = 0) {
  return view(heard(snapshot, age_s), NOW);
}

test("while water is made, feed, brine and product move", () => {
  expect(moving(seen(fixture("producing")))).toEqual({
    feed: true,
    brine: true,
    product: true,
    flush: false,
  });
});

test("a flush moves fresh water and brine, not the sea", () => {
  expect(moving(seen(fixture("flushing")))).toEqual({
    feed: false,
    brine: true,
    product: false,
    flush: true,
  });
});

test("pumps that are switched on move nothing that is not measured", () => {
  const snapshot = fixture("producing");
  for (const channel of ["product_flow", "brine_flow"]) snapshot.readings![channel]!.value = 0;
  expect(snapshot.outputs!["high_pressure_pump"]).toBe(true);
  expect(moving(seen(snapshot))).toEqual({ feed: false, brine: false, product: false, flush: false });
});

test.each(["stale", "stuck", "over", "implausible"] as const)("a %s flow moves nothing", (quality) => {
  const snapshot = fixture("producing");
  snapshot.readings!["product_flow"]!.quality = quality;
  expect(moving(seen(snapshot)).product).toBe(false);
});

test("nothing moves in the past", () => {
  for (const snapshot of FIXTURES.values()) {
    expect(moving(seen(snapshot, 11))).toEqual({ feed: false, brine: false, product: false, flush: false });
  }
});

test("a reading older than 10 s is not believed", () => {
  const snapshot = fixture("stale");
  expect(believed(seen(snapshot), "vessel_pressure")).toBeNull();
  expect(believed(seen(snapshot), "product_flow")).toBe(58.1);
  expect(believed(seen(snapshot, 6), "product_flow")).toBeNull();
});

test("position switches say where product goes, against the coil if need be", () => {
  const snapshot = fixture("producing");
  expect(fork(snapshot)).toEqual({ at: "tank", measured: true });
  snapshot.contacts = { diverter_at_tank: false, diverter_overboard: true };
  expect(fork(snapshot)).toEqual({ at: "overboard", measured: true });
  snapshot.contacts = { diverter_at_tank: false, diverter_overboard: false };
  expect(fork(snapshot)).toEqual({ at: "between", measured: true });
});

test("one switch is enough; without any the coil counts and is called an assumption", () => {
  const snapshot = fixture("producing");
  snapshot.contacts = { diverter_overboard: true };
  expect(fork(snapshot)).toEqual({ at: "overboard", measured: true });
  snapshot.contacts = {};
  expect(fork(snapshot)).toEqual({ at: "tank", measured: false });
  snapshot.outputs = { product_to_tank: null };
  expect(fork(snapshot)).toEqual({ at: "unknown", measured: false });
});
