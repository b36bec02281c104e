import { act } from "preact/test-utils";
import { afterEach, beforeEach, expect, test, vi } from "vitest";
import type { Arguments, Schemas } from "../src/api";
import type { Page } from "../src/page";
import { forecastOf } from "../src/rooms/ForecastForm";
import { Plan } from "../src/rooms/Plan";
import { changed, whatIfPath } from "../src/rooms/WhatIf";
import { button, fixture, pageOf, press, show, textOf } from "./show";
import said from "../scripts/fixture-plan.json";

const PLAN = said.plan as unknown as Schemas["Plan"];
const TRIED = said.what_if as unknown as Schemas["DaysAhead"];
const asked: string[] = [];

beforeEach(() => {
  vi.useFakeTimers();
  asked.length = 0;
  vi.stubGlobal("fetch", (path: string) => {
    asked.push(path.replace("/api/v1", ""));
    const answer = path.includes("/what-if") ? TRIED : path.endsWith("/plan") ? PLAN : { runs: [] };
    return Promise.resolve(new Response(JSON.stringify(answer)));
  });
});

afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

const later = (ms = 10) => act(async () => void (await vi.advanceTimersByTimeAsync(ms)));

async function plan(change: Partial<Page> = {}) {
  const root = show(<Plan />, pageOf(fixture("standby"), 0, change));
  await later();
  return root;
}

test("what is tried out is asked of the server, told apart from the plan, and one press leads back", async () => {
  const root = await plan();
  expect(root.querySelector(".tried")).toBeNull();
  const litres = root.querySelector('[role=group][aria-label="Water wanted at the end"]')!;
  press(button(litres as HTMLElement, "+"));
  press(button(litres as HTMLElement, "+"));
  press(button(root, "Sea 2"));
  await later();
  expect(asked.at(-1)).toBe("/plan/what-if?more_l=40&colder_k=2");
  expect(textOf(litres)).toContain("+40 L");
  const tried = root.querySelector<HTMLElement>(".tried")!;
  expect(textOf(tried)).toContain("not planned");
  expect(textOf(tried)).toContain(TRIED.against);
  expect(textOf(root)).not.toContain("Hold to take");
  press(button(tried, "Back to the plan"));
  expect(root.querySelector(".tried")).toBeNull();
  expect(textOf(litres)).not.toContain("+40 L");
  expect(textOf(root)).toContain(PLAN.ahead.says);
});

test("what stands as it is, is not asked; a switch pressed twice is off again", () => {
  expect(whatIfPath({})).toBeNull();
  const once = changed({}, "feed_percent", 90, null);
  expect(whatIfPath(once)).toBe("/plan/what-if?feed_percent=90");
  expect(changed(once, "feed_percent", 90, 90)).toEqual({});
  expect(changed({ more_l: 20, wait_h: 24 }, "more_l", 0, 0)).toEqual({ wait_h: 24 });
});

test("the engine is not offered where nobody knows what it charges", async () => {
  expect(textOf(await plan())).toContain("Engine, from now on");
  const { engine_w } = PLAN.ahead;
  PLAN.ahead.engine_w = 0;
  expect(textOf(await plan())).not.toContain("Engine, from now on");
  PLAN.ahead.engine_w = engine_w;
});

test("one hold takes the next run over into the sheet of a start, and gives no command", async () => {
  const perform = vi.fn();
  const openStart = vi.fn();
  const root = await plan({ perform, openStart });
  const hold = button(root, "Hold to take");
  act(() => void hold.dispatchEvent(new KeyboardEvent("keydown", { key: "Enter", bubbles: true })));
  await later(500);
  expect(openStart).not.toHaveBeenCalled();
  await later(600);
  expect(openStart).toHaveBeenCalledExactlyOnceWith(PLAN.ahead.runs![0]!.litres_to_tank);
  expect(perform).not.toHaveBeenCalled();
});

test("a forbidden water takes two taps, and one ends it; then the plan is read anew", async () => {
  const given: [string, Arguments | undefined][] = [];
  const perform = (command: string, args?: Arguments) => {
    given.push([command, args]);
    return Promise.resolve(true);
  };
  const root = await plan({ perform });
  const waters = root.querySelector<HTMLElement>(".waters")!;
  expect(textOf(waters)).toContain(PLAN.ahead.forbidden[0]!.text);
  press(button(waters, "Silt"));
  const before = asked.filter((path) => path === "/plan").length;
  press(button(waters, "12 h"));
  await later();
  expect(given).toEqual([["forbid_water", { why: "silt", hours: 12, place: "" }]]);
  expect(asked.filter((path) => path === "/plan").length).toBe(before + 1);
  press(button(waters, "End it"));
  await later();
  expect(given.at(-1)).toEqual(["forbid_water", { why: "harbour", hours: 0 }]);
});

test("the age of a forecast is told, and a new one goes out as days of sun and a sea from tomorrow on", async () => {
  const given: [string, Arguments | undefined][] = [];
  const perform = (command: string, args?: Arguments) => void given.push([command, args]);
  const root = await plan({ perform });
  expect(textOf(root)).toContain("entered on the page, 3 h old");
  const form = root.querySelector("form")!;
  act(() => void form.dispatchEvent(new Event("submit", { bubbles: true, cancelable: true })));
  await later();
  expect(given[0]![0]).toBe("take_forecast");
  expect(given[0]![1]).toMatchObject({ sun_wh_day: [4500, 4500, 4500], sea: [] });
  press(button(root, "Forget"));
  await later();
  expect(given[1]![0]).toBe("forget_forecast");
});

test("a forecast with a hole in it, or a number below nothing, is not sent", () => {
  const noon = new Date("2026-07-01T12:00:00");
  expect(forecastOf(["3000", "", "1"], null, noon)).toBeNull();
  expect(forecastOf(["3000", "-1", "1"], null, noon)).toBeNull();
  expect(forecastOf(["sunny"], null, noon)).toBeNull();
  const full = forecastOf(["3000", "2500,5", "0"], 17.5, noon);
  expect(full).toMatchObject({ from: noon.toISOString(), sun_wh_day: [3000, 2500.5, 0] });
  const [sea] = (full as { sea: { from: string; temperature_c: number }[] }).sea;
  expect(sea!.temperature_c).toBe(17.5);
  expect(new Date(sea!.from).getTime()).toBeGreaterThan(noon.getTime());
});
