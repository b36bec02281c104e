import { expect, test } from "vitest";
import { newerThan } from "../src/frame/Banners";
import { fact } from "../src/rooms/facts";
import { SaidFacts } from "../src/rooms/Facts";
import { parseRoute, trendAddress } from "../src/router";
import { METRIC } from "../src/units";
import { show, textOf } from "./show";

test.each([
  ["energy_wh", 1466, "Energy", "1466 Wh"],
  ["use_per_day_l", 34, "Use per day", "34.0 L"],
  ["tds_worst_mg_l", 402, "Salt worst", "402 mg/L"],
  ["peak_pressure_bar", 55.9, "Peak pressure", "55.9 bar"],
  ["flow_change", -0.06, "Flow change", "−6.0 %"],
  ["duration_min", 75, "Duration", "1 h 15 min"],
  ["membrane_pressure", 55.12, "Membrane pressure", "55.1 bar"],
  ["people", 2, "People", "2"],
])("%s = %d reads %s: %s", (name, value, label, text) => {
  const one = fact(name, value, METRIC);
  expect([one?.label, one?.value.replace("\u00a0", " ")]).toEqual([label, text]);
});

test("what is empty is left out", () => {
  expect(fact("note", "", METRIC)).toBeNull();
  expect(fact("note", null, METRIC)).toBeNull();
});

test("an answer with parts is shown part by part; an empty one says so; a failed one says why", () => {
  const said = {
    kind: "ready",
    value: { schema: 1, next_run: { title: "Tomorrow", energy_wh: 1750 } },
  } as const;
  expect(textOf(show(<SaidFacts said={said} nothing="Nothing." />))).toBe("Next run: TomorrowEnergy1750 Wh");
  expect(textOf(show(<SaidFacts said={{ kind: "ready", value: { schema: 1 } }} nothing="Nothing." />))).toBe(
    "Nothing.",
  );
  const noted = { kind: "ready", value: { plan: null, note: "No plan yet." } } as const;
  expect(textOf(show(<SaidFacts said={noted} nothing="Nothing." />))).toBe("No plan yet.");
  expect(textOf(show(<SaidFacts said={{ kind: "failed", text: "No." }} nothing="Nothing." />))).toBe("No.");
});

test("addresses lead to rooms, unknown ones to Now", () => {
  expect(parseRoute("#/log/r%2012")).toMatchObject({ room: "log", rest: ["r 12"] });
  expect(parseRoute(trendAddress("feed_pressure")).query.get("show")).toBe("feed_pressure");
  expect(parseRoute("#/elsewhere").room).toBe("now");
  expect(parseRoute("").room).toBe("now");
  expect(parseRoute("#/log/%E0%A4%A").rest).toEqual(["%E0%A4%A"]);
});

test("only a later server makes the page old", () => {
  expect(newerThan("0.2.0", "0.1.9")).toBe(true);
  expect(newerThan("0.1.0", "0.1.0")).toBe(false);
  expect(newerThan("0.1.0", "0.2.0")).toBe(false);
  expect(newerThan("1.0", "0.9.9")).toBe(true);
});
