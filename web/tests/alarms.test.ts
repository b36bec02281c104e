import { expect, test } from "vitest";
import { announcement, inOrder, wantsAcknowledging } from "../src/alarms";
import { fixture } from "./show";

const many = fixture("many_alarms");

test("the highest comes first, the first cause first within its priority, what is set aside last", () => {
  const ids = inOrder(many).map((alarm) => alarm.id);
  expect(ids.slice(0, 3)).toEqual(["bilge_wet", "pressure_not_released", "feed_pressure_low_low"]);
  expect(ids[3]).toBe("restarted_unexpectedly");
  expect(ids[ids.length - 1]).toBe("flush_due");
  expect(ids).toHaveLength(9);
});

test("what has returned unseen still wants acknowledging", () => {
  const wanting = inOrder(many)
    .filter(wantsAcknowledging)
    .map((alarm) => alarm.id);
  expect(wanting).toContain("battery_low");
  expect(wanting).not.toContain("filter_drop_high");
});

test("a plant without alarms has none", () => {
  expect(inOrder(null)).toEqual([]);
  expect(inOrder(fixture("lost"))).toEqual([]);
});

test("a new alarm is announced with its priority, a standing one is not, the end of all is", () => {
  const [first] = inOrder(many);
  expect(announcement([], [first!])).toBe(
    "Urgent alarm. There is water at the bilge sensor, or its wire is broken. A hose, fitting or housing may be leaking sea water.",
  );
  expect(announcement([first!], [first!])).toBeNull();
  expect(announcement([first!], [])).toBe("No alarm any more.");
  expect(announcement([], [])).toBeNull();
});
