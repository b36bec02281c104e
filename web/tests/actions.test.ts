import { expect, test } from "vitest";
import { actions } from "../src/actions";
import { view } from "../src/age";
import { fixture, FIXTURES, heard, NOW } from "./show";

function offered(name: string, age_s = 0, alarmInSight = true) {
  const snapshot = fixture(name);
  return actions(view(heard(snapshot, age_s), NOW), snapshot.drive, alarmInSight);
}

test("at rest one may start or flush", () => {
  expect(offered("standby").offered.map(({ id, refused }) => [id, refused])).toEqual([
    ["start", []],
    ["flush", []],
  ]);
});

test("a refused start keeps its button and all its reasons", () => {
  const start = offered("standby_flush_owed").offered.find(({ id }) => id === "start");
  expect(start?.id).toBe("start");
  expect(start?.refused).toHaveLength(3);
  expect(start?.refused[1]).toContain("12.4 V");
});

test("a command neither allowed nor explained is refused in general words", () => {
  const snapshot = fixture("standby");
  snapshot.allowed_commands = ["stop"];
  const [start] = actions(view(heard(snapshot), NOW)).offered;
  expect(start?.refused).toEqual(["It is not possible in this state."]);
});

test("a running plant offers nothing but Stop, which is then the big one", () => {
  expect(offered("producing")).toEqual({ offered: [], stop: { label: "Stop", prominent: true } });
});

test("a tripped plant first wants acknowledging, then the reset", () => {
  expect(offered("tripped").offered.map(({ id }) => id)).toEqual(["acknowledge", "reset"]);
  expect(offered("tripped_ready").offered.map(({ id }) => id)).toEqual(["reset"]);
});

test("one alarm is acknowledged at a time, the one that is read first", () => {
  const [acknowledge] = offered("many_alarms").offered;
  expect(acknowledge).toMatchObject({ args: { alarm: "bilge_wet" }, note: "the first of 6" });
  expect(offered("tripped").offered[0]).toMatchObject({ args: { alarm: "feed_pressure_low_low" } });
});

test("an alarm that is out of sight is not acknowledged: the way leads to it", () => {
  expect(offered("many_alarms", 0, false).offered.map(({ id, label }) => [id, label])).toContainEqual([
    "see_alarm",
    "See the alarm",
  ]);
  expect(offered("many_alarms", 0, false).offered.map(({ id }) => id)).not.toContain("acknowledge");
});

test("at rest with a flush owed, as after a reset, the flush comes first and the start second", () => {
  const snapshot = fixture("standby");
  snapshot.owed = { ...snapshot.owed!, flush: true };
  expect(actions(view(heard(snapshot), NOW)).offered.map(({ id }) => id)).toEqual(["flush", "start"]);
});

test("with an alarm standing at rest, a flush that is owed takes the one place left", () => {
  const snapshot = fixture("standby_flush_owed");
  snapshot.alarms = fixture("low_feed_warning").alarms;
  expect(actions(view(heard(snapshot), NOW)).offered.map(({ id }) => id)).toEqual(["acknowledge", "flush"]);
});

test("a pump on its own switch can only be asked to stop", () => {
  expect(offered("hand_run").stop.label).toBe("Ask to stop: switch the pump off by hand");
});

test("Stop is there in every state, lost or not", () => {
  for (const snapshot of FIXTURES.values()) {
    for (const age_s of [0, 5, 60]) {
      expect(actions(view(heard(snapshot, age_s), NOW), snapshot.drive).stop.label).toMatch(
        /^Stop|^Ask to stop/,
      );
    }
  }
  expect(actions(view(heard(null), NOW)).stop.label).toBe("Stop");
});

test("nothing is offered on old news", () => {
  expect(offered("standby", 11).offered).toEqual([]);
});
