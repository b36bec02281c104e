import { expect, test } from "vitest";
import { LimitsInForce } from "../src/rooms/LimitsInForce";
import { Sensors } from "../src/rooms/Sensors";
import { limitsInForce, standing } from "../src/rooms/standing";
import { lastUpkeep, signed, workLabel, type Work } from "../src/rooms/work";
import { Upkeep } from "../src/rooms/WorkList";
import type { Purge } from "../src/api";
import { METRIC } from "../src/units";
import { fixture, pageOf, show, textOf } from "./show";

function work(kind: string, seq: number, change: Partial<Work> = {}): Work {
  return {
    boot: "b",
    seq,
    time: "2026-09-21T14:00:00Z",
    kind,
    note: "",
    who: "Ana",
    pump_s_since: 7200,
    product_l_since: 118,
    ...change,
  };
}

test("while water is made the membrane stands beside what it should give", () => {
  const page = pageOf(fixture("producing"));
  const labels = standing(page.view, METRIC).map(([label]) => label);
  expect(labels).toContain("Flush");
  expect(labels).toContain("Product flow");
  expect(labels).toContain("Drop over the filters");
});

test("at rest nothing is said of a membrane that gives nothing, nor of a drop without flow", () => {
  const labels = standing(pageOf(fixture("standby")).view, METRIC).map(([label]) => label);
  expect(labels).toEqual(["Flush"]);
});

function purge(): Purge {
  return {
    of: "preservative",
    also: [],
    named: "preservative",
    rinsed_l: 1,
    rinse_l: 4,
    left_s: 60,
    confirm: false,
    tests: [],
    not_now: [],
  };
}

test("an owed flush and first water that is still to be purged are said", () => {
  const snapshot = fixture("standby_flush_owed");
  snapshot.owed = { flush: true, chlorine: false, purge: purge() };
  const rows = standing(pageOf(snapshot).view, METRIC);
  expect(rows).toEqual([
    ["Flush", "owed: sea water stands in the membrane"],
    ["First water", "goes overboard (preservative)"],
  ]);
});

test("the past is no standing: with control lost nothing is said", () => {
  expect(standing(pageOf(fixture("lost")).view, METRIC)).toEqual([]);
});

test("limits in force come in the units of the boat; what is not told is left out", () => {
  const american = fixture("american");
  expect(textOf(show(<LimitsInForce />, pageOf(american)))).toMatch(/stops above.*psi/);
  expect(limitsInForce({ accept_tds_mg_l: 500, flush_l: null }, METRIC)).toEqual([
    ["Tank opens below", "500\u00a0mg/L"],
  ]);
  expect(textOf(show(<LimitsInForce />))).toBe("Nothing is heard from control.");
});

test("what the owner gave a reason for stands among the limits, with the reason", () => {
  const snapshot = fixture("standby");
  snapshot.given_reasons = [{ id: "off_reason", means: "A start asks nobody", why: "a dry test stand" }];
  expect(textOf(show(<LimitsInForce />, pageOf(snapshot)))).toContain("A start asks nobodya dry test stand");
});

test("sensors are shown in the units of the boat, and their quality in words", () => {
  const snapshot = fixture("american");
  const [channel] = Object.keys(snapshot.readings);
  const reading = snapshot.readings[channel ?? ""];
  if (reading !== undefined) Object.assign(reading, { quality: "open", value: null });
  const text = textOf(show(<Sensors />, pageOf(snapshot)));
  expect(text).toContain("psi");
  expect(text).not.toMatch(/\d bar/);
  expect(text).toContain("no signal");
});

test("of each upkeep the newest counts, with what the plant has done since", () => {
  const list = [work("note", 9), work("filter_changed", 8), work("filter_changed", 3), work("cleaned", 2)];
  expect(lastUpkeep(list).map((one) => one.seq)).toEqual([8, 2]);
  const said = { kind: "ready", value: { work: list } } as const;
  expect(textOf(show(<Upkeep said={said} />))).toMatch(/Filters changed.*pump 2 h 00 min since, 118 L made/);
  expect(textOf(show(<Upkeep said={{ kind: "ready", value: { work: [] } }} />))).toBe("");
});

test("every kind of work has a name for people", () => {
  expect(workLabel("purge_confirmed")).toBe("First water passed its end test");
  expect(workLabel("filter_changed")).toBe("Filters changed");
  expect(workLabel("something_new")).toBe("something new");
});

test("an address is no name", () => {
  expect([signed("Ana"), signed(null), signed("192.168.4.20"), signed("fe80::1")]).toEqual([
    "Ana",
    "name not given",
    "name not given, from 192.168.4.20",
    "name not given, from fe80::1",
  ]);
});
