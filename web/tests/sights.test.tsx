import { expect, test } from "vitest";
import { Banners } from "../src/frame/Banners";
import { Sentence } from "../src/frame/Sentence";
import { StillThere } from "../src/frame/StillThere";
import { button, fixture, heard, pageOf, press, show, textOf, NOW } from "./show";
import { view } from "../src/age";

const LOST = ["control_configuration", "control_down", "control_silent", "lost"];

function sight(name: string, age_s = 0): string {
  const page = pageOf(fixture(name), age_s);
  return textOf(show(<Banners />, page)) + textOf(show(<Sentence />, page));
}

test("every kind of trouble is a sight of its own", () => {
  const sights = [
    ...LOST.map((name) => sight(name)),
    sight("record_unavailable"),
    sight("config_wrong"),
    sight("producing", 5),
    sight("producing", 60),
    sight("producing"),
  ];
  const told = new Set(sights);
  expect(told.size).toBe(sights.length - 1); // 5 s old differs by its mark at the top, not by its words
});

test("broken settings are listed key by key with what to do, and the plant is stopped by hand", () => {
  const text = sight("control_configuration");
  expect(text).toContain("limits.vessel_pressure_high_high_bar (line 42): 70 bar; allowed: below");
  expect(text).toContain("inputs.feed_pressure: nothing; allowed: one of the kinds of sensor. choose one");
  expect(text).toContain("stop it by hand at the plant");
});

test("without control the page says what to do at the plant, whatever the cause", () => {
  for (const name of LOST)
    expect(sight(name)).toContain("If the plant still runs, stop it by hand at the plant.");
});

test("trouble with the record hides nothing of the plant", () => {
  const page = pageOf(fixture("record_unavailable"));
  expect(textOf(show(<Sentence />, page))).toContain("Making water");
  const banners = show(<Banners />, page);
  expect(textOf(banners)).toContain("Nothing is being recorded");
  expect(banners.querySelectorAll("section").length).toBe(2);
});

test("when the server itself is not heard its old news of the computer is not shown as news", () => {
  expect(textOf(show(<Banners />, pageOf(fixture("record_unavailable"), 60)))).toBe("");
});

test('"still there?" is answered by one button with the command the server names', () => {
  const given: unknown[] = [];
  const page = pageOf(fixture("still_there"), 0, {
    perform: (command, args) => void given.push([command, args]),
  });
  const box = show(<StillThere />, page);
  expect(textOf(box)).toMatch(/Without an answer the run ends in 3 min 3[12] s/);
  press(button(box, "I am here"));
  expect(given).toEqual([["acknowledge", { alarm: "attendance_due" }]]);
});

test("the time to answer runs down on the page too, and an old question is not asked", () => {
  const seen = heard(fixture("still_there"), 2);
  const late = { ...pageOf(fixture("still_there"), 2), view: view(seen, NOW) };
  expect(textOf(show(<StillThere />, late))).toMatch(/3 min (29|30) s/);
  expect(textOf(show(<StillThere />, pageOf(fixture("still_there"), 60)))).toBe("");
  expect(textOf(show(<StillThere />, pageOf(fixture("producing"))))).toBe("");
});

test("under an alarm that nobody has acknowledged the sentence is small: the alarm says the same louder", () => {
  const small = (name: string) =>
    show(<Sentence />, pageOf(fixture(name))).querySelector(".under-alarm") !== null;
  expect(small("tripped")).toBe(true);
  expect(small("tripped_ready")).toBe(false);
  expect(small("producing")).toBe(false);
});
