import { expect, test } from "vitest";
import type { OfferedFault } from "../src/api";
import { beginning, fieldProblem, mend, order } from "../src/practice/order";

const SEVERITY = {
  name: "severity",
  low: 0,
  high: 1,
  unit: "",
  in_channel_unit: false,
  optional: false,
  typical: 0.8,
  choices: [],
};
const CLOGGED: OfferedFault = {
  fault: "prefilter_clogged",
  kind: "plant",
  name: "Pre-filter clogged",
  does: "The filters take pressure.",
  target: null,
  choices: [],
  arguments: [SEVERITY],
};
const OFFSET: OfferedFault = {
  ...CLOGGED,
  fault: "sensor_offset",
  kind: "sensor",
  target: "channel",
  choices: [{ value: "feed_pressure", name: "pump inlet pressure", unit: "bar" }],
  arguments: [{ ...SEVERITY, name: "value", low: null, high: null, typical: null }],
};
const MISSING: OfferedFault = {
  ...CLOGGED,
  fault: "adc_missing",
  kind: "electronics",
  target: "address",
  choices: [{ value: 72, name: "converter at 0x48", unit: "" }],
  arguments: [],
};

test("a fault is given with what was chosen, numbers as numbers", () => {
  expect(order(CLOGGED, "", {})).toEqual({ fault: "prefilter_clogged", severity: 0.8 });
  expect(order(CLOGGED, "", { severity: "0,5" })).toEqual({ fault: "prefilter_clogged", severity: 0.5 });
  expect(order(OFFSET, "feed_pressure", { value: "-0.3" })).toEqual({
    fault: "sensor_offset",
    channel: "feed_pressure",
    value: -0.3,
  });
  expect(order(MISSING, "72", {})).toEqual({ fault: "adc_missing", address: 72 });
});

test("nothing is given while a field is no good", () => {
  expect(order(CLOGGED, "", { severity: "much" })).toBeNull();
  expect(order(CLOGGED, "", { severity: "1.5" })).toBeNull();
  expect(order(OFFSET, "feed_pressure", {})).toBeNull();
  expect(order(OFFSET, "somewhere", { value: "1" })).toBeNull();
});

test("a field says what is allowed, and an optional one may stay empty", () => {
  expect(fieldProblem(SEVERITY, "1.5")).toBe("At most 1.");
  expect(fieldProblem(SEVERITY, "-1")).toBe("At least 0.");
  expect(fieldProblem(SEVERITY, "")).toBe("A number is wanted.");
  expect(fieldProblem({ ...SEVERITY, optional: true }, "")).toBeNull();
  expect(beginning({ ...SEVERITY, choices: ["on", "off"] })).toBe("on");
});

test("a standing fault is mended where it stands", () => {
  const standing = {
    fault: "sensor_offset",
    name: "",
    target: "feed_pressure",
    target_name: null,
    arguments: {},
  };
  expect(mend(standing, [OFFSET])).toEqual({ fault: "sensor_offset", clear: true, channel: "feed_pressure" });
  const plain = { ...standing, fault: "prefilter_clogged", target: null };
  expect(mend(plain, [CLOGGED])).toEqual({ fault: "prefilter_clogged", clear: true });
});
