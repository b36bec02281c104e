import { expect, test } from "vitest";
import { newerThan } from "../src/frame/Banners";
import { CheckSaid, gravestFirst } from "../src/rooms/Checkup";
import { RecordState } from "../src/rooms/RecordState";
import { Told } from "../src/rooms/Told";
import type { Said } from "../src/rooms/useRead";
import { parseRoute, trendAddress } from "../src/router";
import { show, textOf } from "./show";

const KEPT = {
  state: "ok",
  problem: null,
  note: null,
  held: 1,
  refused: 0,
  lost: 0,
  unreadable: 0,
  last_write_age_s: 3,
} as const;

test("a record that is well says so in a few words; what is missing of it is named only when something is", () => {
  expect(textOf(show(<RecordState state={KEPT} />))).toBe(
    "Recordin orderLast written3 s agoWaiting1 row written together, to spare the card",
  );
  const failing = {
    ...KEPT,
    state: "failing",
    problem: "The card is full.",
    lost: 7,
    note: "Look.",
  } as const;
  const said = textOf(show(<RecordState state={failing} />));
  expect(said).toContain("failing: nothing can be written The card is full.");
  expect(said).toContain("Lost7");
  expect(said).toContain("Look.");
  expect(said).not.toContain("Put off");
});

test("what is read is shown when it is there; before, and when it fails, that is said", () => {
  const shown = (said: Said<number>) => textOf(show(<Told said={said}>{(value) => <b>{value}</b>}</Told>));
  expect(shown({ kind: "loading" })).toBe("Reading…");
  expect(shown({ kind: "failed", text: "No." })).toBe("No.");
  expect(shown({ kind: "ready", value: 7 })).toBe("7");
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

const LINE = { about: "Card", found: "Found.", do: "", more: [] };
const CHECK = {
  looking: false,
  problem: null,
  age_s: 60,
  problems: 1,
  warnings: 0,
  lines: [
    { ...LINE, id: "a", state: "ok" },
    { ...LINE, id: "b", state: "not_seen" },
    { ...LINE, id: "c", state: "problem", do: "Change it." },
  ],
} as const;

test("a check-up shows the gravest first, with its remedy, and keeps what is in order behind a word", () => {
  const lines = CHECK.lines.map((line) => ({ ...line, more: [] }));
  expect(gravestFirst(lines).map(({ id }) => id)).toEqual(["c", "b", "a"]);
  const said = textOf(show(<CheckSaid {...CHECK} lines={lines} />));
  expect(said).toContain("1 problem, 0 warnings.");
  expect(said).toContain("ProblemCard: Found.Change it.");
  expect(said.indexOf("Change it.")).toBeLessThan(said.indexOf("In order, or not to be seen from here (2)"));
});

test("a check-up that was never made, or failed, is not called good", () => {
  const never = textOf(show(<CheckSaid {...CHECK} lines={[]} age_s={null} problems={0} looking />));
  expect(never).toContain("Not looked at yet.");
  expect(never).toContain("looking now");
  const failed = textOf(show(<CheckSaid {...CHECK} lines={[]} problem="It could not be run." />));
  expect(failed).toContain("It could not be run.");
});
