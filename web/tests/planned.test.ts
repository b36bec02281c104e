import { expect, test } from "vitest";
import type { RunRecord } from "../src/api";
import { factsOf } from "../src/need";
import { flowRestsOn, madeIn, offers, tankOf } from "../src/rooms/planned";
import { fixture } from "./show";

const NOW = new Date("2026-09-21T14:00:00Z");

// Invented: 60 L/h, 1400 W, four minutes before the tank opens.
const FACTS = { flow_l_h: 60, power_w: 1400, flush_l: 12, before_s: 240, room_l: 50 };

function run(started: string | null, litres: number | null): RunRecord {
  return { started, litres, energy_wh: litres === null ? null : litres * 24 } as RunRecord;
}

test("an amount takes the time before the tank opens and its own, at the power of the pump", () => {
  const [first] = offers(FACTS, NOW);
  // 20 L at 60 L/h are 1200 s; 1440 s at 1400 W are 560 Wh
  expect(first?.cost).toMatchObject({ litres: 20, seconds: 1440, energy_wh: 560 });
});

test("only what has room in the tank is offered, and the full tank last", () => {
  const made = offers(FACTS, NOW).map(({ need }) => (need.kind === "litres" ? need.litres : need.kind));
  expect(made).toEqual([20, 40, "full"]);
  expect(offers({ ...FACTS, room_l: 0.4 }, NOW)).toEqual([]);
});

test("the tank is known only by a good level and a configured size", () => {
  const plant = fixture("standby");
  const level = plant.readings["tank_fill"];
  if (level === undefined || plant.limits === null) throw new Error("the fixture has a tank");
  Object.assign(level, { quality: "good", value: 50 });
  plant.limits["tank_capacity_l"] = 300;
  expect(tankOf(plant)).toEqual({ level_l: 150, capacity_l: 300 });
  level.quality = "stuck";
  expect(tankOf(plant)).toBeNull();
  expect(tankOf(null)).toBeNull();
});

test("only dated runs of the last days count; one without litres adds none", () => {
  const runs = [
    run("2026-09-21T10:00:00Z", 40),
    run("2026-09-15T10:00:00Z", null),
    run("2026-09-01T10:00:00Z", 99),
  ];
  expect(madeIn(7, [...runs, run(null, 60)], NOW)).toEqual({ runs: 2, litres: 40, energy_wh: 960 });
});

test("a forecast says whether it rests on now, on a run, or on nothing", () => {
  const plant = fixture("standby");
  plant.derived["expected_flow_l_h"] = null;
  expect(flowRestsOn(plant, null)).toBe("nothing");
  expect(flowRestsOn(plant, run("2026-09-21T10:00:00Z", 40))).toBe("run");
  plant.derived["expected_flow_l_h"] = 58;
  expect(flowRestsOn(plant, null)).toBe("now");
  expect(factsOf(plant, null).flow_l_h).toBe(58);
});
