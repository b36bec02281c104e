import { expect, test } from "vitest";
import { cost, factsOf, nextTime, startArguments, tellingRun } from "../src/need";
import { fixture } from "./show";

const standby = fixture("standby");
const RUN = { litres: 60, seconds: 3860, producing_s: 3600 };
const facts = factsOf(standby, RUN);
const NOON = new Date(2026, 4, 14, 12, 0);

test("a plant at rest forecasts from the last telling run, its limits and its tank", () => {
  expect(facts).toEqual({ flow_l_h: 60, power_w: 1400, flush_l: 12, before_s: 260, room_l: 400 * 0.46 });
});

test("what the plant expects today counts more than the last run", () => {
  expect(factsOf(fixture("producing"), RUN).flow_l_h).toBe(61);
});

test("without a run and without limits nothing is known but a usual wait", () => {
  const bare = { ...standby, limits: null };
  expect(factsOf(bare, null)).toEqual({
    flow_l_h: null,
    power_w: null,
    flush_l: null,
    before_s: 240,
    room_l: null,
  });
});

test("a tank level that is not good gives no room", () => {
  const doubtful = fixture("standby");
  doubtful.readings["tank_fill"]!.quality = "stuck";
  expect(factsOf(doubtful, RUN).room_l).toBeNull();
});

test("a run too short, or still going, tells nothing", () => {
  const going = { litres: null, seconds: null, producing_s: null };
  const short = { litres: 0.5, seconds: 300, producing_s: 30 };
  expect(tellingRun([going, short, RUN])).toBe(RUN);
  expect(tellingRun([going, short])).toBeNull();
});

test("60 L at 60 L/h and 260 s before the tank opens take 3860 s and 1501 Wh at 1400 W", () => {
  const planned = cost({ kind: "litres", litres: 60 }, facts, NOON);
  expect(planned.seconds).toBeCloseTo(3860, 6);
  expect(planned.energy_wh).toBeCloseTo((3860 * 1400) / 3600, 6);
  expect(planned.flush_l).toBe(12);
  expect(planned.ends?.getTime()).toBe(NOON.getTime() + 3_860_000);
  expect(planned.problem).toBeNull();
});

test("until a time gives the litres that fit", () => {
  const planned = cost({ kind: "until", at: new Date(2026, 4, 14, 14, 0) }, facts, NOON);
  expect(planned.litres).toBeCloseTo(((7200 - 260) / 3600) * 60, 6);
  expect(planned.seconds).toBe(7200);
});

test("until full takes the tank's room", () => {
  expect(cost({ kind: "full" }, facts, NOON).litres).toBeCloseTo(184, 6);
  expect(cost({ kind: "full" }, { ...facts, room_l: null }, NOON).litres).toBeNull();
});

test("needs that cannot be are refused with the reason", () => {
  expect(cost({ kind: "litres", litres: NaN }, facts, NOON).problem).toBe("Say how much water is needed.");
  expect(cost({ kind: "litres", litres: 0 }, facts, NOON).problem).toBe("Say how much water is needed.");
  expect(cost({ kind: "litres", litres: 300 }, facts, NOON).problem).toBe("The tank has not that much room.");
  expect(cost({ kind: "until", at: new Date(2026, 4, 14, 12, 2) }, facts, NOON).problem).toContain(
    "too soon",
  );
});

test("without a forecast the cost is unknown, not zero", () => {
  const planned = cost({ kind: "litres", litres: 60 }, factsOf({ ...standby, limits: null }, null), NOON);
  expect([planned.seconds, planned.energy_wh, planned.flush_l, planned.ends]).toEqual([
    null,
    null,
    null,
    null,
  ]);
  expect(planned.problem).toBeNull();
});

test("a clock time is today, or tomorrow when it has passed", () => {
  expect(nextTime("18:00", NOON)).toEqual(new Date(2026, 4, 14, 18, 0));
  expect(nextTime("06:30", NOON)).toEqual(new Date(2026, 4, 15, 6, 30));
  expect(nextTime("soon", NOON)).toBeNull();
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
