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
    feed: "measured",
    brine: "measured",
    product: "measured",
    flush: null,
  });
});

test("a flush moves fresh water and brine, not the sea", () => {
  expect(moving(seen(fixture("flushing")))).toEqual({
    feed: null,
    brine: "measured",
    product: null,
    flush: "measured",
  });
});

test("pumps that are switched on move nothing that is not measured", () => {
  const snapshot = fixture("producing");
  for (const channel of ["product_flow", "brine_flow"]) snapshot.readings![channel]!.value = 0;
  expect(snapshot.outputs!["high_pressure_pump"]).toBe(true);
  expect(moving(seen(snapshot))).toEqual({ feed: null, brine: null, product: null, flush: null });
});

test("without a brine meter brine is assumed, and with one that is faulty nothing is", () => {
  const snapshot = fixture("producing");
  snapshot.readings!["brine_flow"]!.quality = "open";
  expect(moving(seen(snapshot)).brine).toBeNull();
  delete snapshot.readings!["brine_flow"];
  expect(moving(seen(snapshot))).toMatchObject({ feed: "measured", brine: "assumed", product: "measured" });
  snapshot.readings!["product_flow"]!.value = 0;
  expect(moving(seen(snapshot))).toMatchObject({ feed: "assumed", brine: "assumed", product: null });
  snapshot.outputs!["feed_pump"] = false;
  expect(moving(seen(snapshot))).toMatchObject({ feed: null, brine: null });
});

test("without a flush meter an open flush valve is assumed to flush, and moves no sea water", () => {
  const snapshot = fixture("flushing");
  for (const channel of ["flush_flow", "brine_flow"]) delete snapshot.readings![channel];
  expect(moving(seen(snapshot))).toMatchObject({ feed: null, brine: "assumed", flush: "assumed" });
  snapshot.outputs!["flush_valve"] = false;
  expect(moving(seen(snapshot))).toMatchObject({ flush: null, brine: null });
});

test.each(["stale", "stuck", "over", "implausible"] as const)("a %s flow moves nothing", (quality) => {
  const snapshot = fixture("producing");
  snapshot.readings!["product_flow"]!.quality = quality;
  expect(moving(seen(snapshot)).product).toBeNull();
});

test("nothing moves in the past", () => {
  for (const snapshot of FIXTURES.values()) {
    expect(moving(seen(snapshot, 11))).toEqual({ feed: null, brine: null, product: null, flush: null });
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
