import { act } from "preact/test-utils";
import { beforeAll, beforeEach, expect, test, vi } from "vitest";
import { fetchParts } from "../src/parts";
import { Health } from "../src/rooms/Health";
import { calibration as calibrationIn, type Pair, type Way } from "../src/tasks/calibration";
import { CalibrateForm } from "../src/tasks/CalibrateForm";
import { CONDITIONS, look } from "../src/tasks/conditions";
import { DEVICE, forgottenAfter_ms, keep, kept, type Store } from "../src/tasks/engine";
import { isSigned, resumeAt, type Commissioning } from "../src/tasks/commissioning";
import { SafetyList, Sign } from "../src/tasks/Signing";
import { preservative_g, preservative_l } from "../src/tasks/StepBody";
import { TASKS, taskNamed } from "../src/tasks/table";
import { TaskList, TaskScreen } from "../src/tasks/Tasks";
import type { UnitChoice } from "../src/api";
import { METRIC } from "../src/units";
import { again, button, fixture, pageOf, press, show, textOf } from "./show";

beforeAll(fetchParts);

const AMERICAN: UnitChoice = { pressure: "psi", volume: "gal", temperature: "F", salt: "uS/cm" };

const FILTERS = taskNamed("filters")!;

async function settled(): Promise<void> {
  await act(() => Promise.resolve());
}

function memory(): Store {
  const held = new Map<string, string>();
  return {
    get: (key) => held.get(key) ?? null,
    set: (key, value) => (value === null ? held.delete(key) : held.set(key, value)),
  };
}

beforeEach(() => localStorage.clear());

test("a task goes on where it was left, and is begun anew when it is over or long ago", () => {
  const store = memory();
  expect(kept(FILTERS, store, 1000)).toBeNull();
  keep(FILTERS, 3, store, 1000);
  expect(kept(FILTERS, store, 2000)).toBe(3);
  expect(kept(FILTERS, store, 1001 + forgottenAfter_ms(FILTERS))).toBeNull();
  keep(FILTERS, null, store, 2000);
  expect(kept(FILTERS, store, 2000)).toBeNull();
});

test("a task of days keeps its place for a month", () => {
  const store = memory();
  const commissioning = taskNamed("commissioning")!;
  keep(commissioning, 4, store, 0);
  expect(kept(commissioning, store, 29 * 24 * 3600_000)).toBe(4);
  expect(kept(commissioning, store, 31 * 24 * 3600_000)).toBeNull();
});

test("what is kept and no longer fits the task is not believed", () => {
  for (const text of ["", "x 1", "99 1000", "-1 1000", "2.5 1000", "2"]) {
    const store: Store = { get: () => text, set: () => undefined };
    expect(kept(FILTERS, store, 1000)).toBeNull();
  }
});

test("every task has steps with words, ids of their own and a caution before anything is opened", () => {
  expect(new Set(TASKS.map((task) => task.id)).size).toBe(TASKS.length);
  for (const task of TASKS) {
    expect(task.steps.length).toBeGreaterThan(1);
    for (const step of task.steps) {
      expect(step.title).not.toBe("");
      expect(step.text.length).toBeGreaterThan(20);
      expect(step.text.length).toBeLessThan(260);
    }
    const locks = task.steps.findIndex((step) => step.kind === "lock");
    if (locks >= 0) {
      expect(task.steps[locks - 1]).toMatchObject({ kind: "wait", until: "no_pressure" });
      expect(
        task.steps.slice(locks).some((step) => step.kind === "command" && step.until === "unlocked"),
      ).toBe(true);
    }
  }
});

test("a step that waits lets nobody pass on old news, on an unknown value or on a false one", () => {
  const standby = fixture("standby");
  expect(look("no_pressure", standby, false, METRIC).met).toBe(true);
  expect(look("no_pressure", standby, true, METRIC).met).toBeNull();
  expect(look("no_pressure", null, false, METRIC).met).toBeNull();
  const blind = structuredClone(standby);
  blind.readings!["vessel_pressure"]!.quality = "open";
  expect(look("no_pressure", blind, false, METRIC).met).toBeNull();
  expect(look("no_pressure", fixture("producing"), false, METRIC).met).toBe(false);
  for (const name of Object.keys(CONDITIONS) as (keyof typeof CONDITIONS)[]) {
    expect(look(name, null, false, METRIC).met).toBeNull();
    expect(look(name, fixture("producing"), true, METRIC).met).toBeNull();
  }
});

test("one goes through a task by the big button, which waits for what has to be true", () => {
  const running = show(<TaskScreen task={FILTERS} />, pageOf(fixture("producing")));
  expect(button(running, "Next").disabled).toBe(true);
  again(running, <TaskScreen task={FILTERS} />, pageOf(fixture("standby")));
  expect(button(running, "Next").disabled).toBe(false);
  press(button(running, "Next"));
  expect(textOf(running)).toContain("Open the regulator fully");
  expect(textOf(running)).toContain("Careful: 60 bar goes through skin");
  press(button(running, "Next"));
  expect(textOf(running)).toContain("Lock the plant");
  expect(button(running, "Next").disabled).toBe(true);
  again(running, <TaskScreen task={FILTERS} />, pageOf(fixture("locked")));
  expect(button(running, "Next").disabled).toBe(false);
  press(button(running, "Back"));
  expect(textOf(running)).toContain("step 2 of 7");
});

test("the list of tasks says where one was left", () => {
  const screen = show(<TaskScreen task={FILTERS} />, pageOf(fixture("standby")));
  press(button(screen, "Next"));
  expect(textOf(show(<TaskList />))).toContain("Go on: step 2 of 7, No pressure");
});

test("work that has to be on record is there before one goes on", async () => {
  const given: unknown[] = [];
  let taken = false;
  const task = { ...FILTERS, id: "one", steps: FILTERS.steps.filter((step) => step.kind === "log") };
  const page = pageOf(fixture("standby"), 0, {
    perform: (command, args) => {
      given.push([command, args]);
      return Promise.resolve(taken);
    },
  });
  const screen = show(<TaskScreen task={task} />, page);
  expect(button(screen, "Finished").disabled).toBe(true);
  press(button(screen, "Put on record"));
  await settled();
  expect(button(screen, "Finished").disabled).toBe(true);
  taken = true;
  press(button(screen, "Put on record"));
  await settled();
  expect(given).toEqual([
    ["log", { kind: "filter_changed" }],
    ["log", { kind: "filter_changed" }],
  ]);
  expect(button(screen, "Finished").disabled).toBe(false);
});

test("an address that names no task says so, and leads to all tasks", () => {
  const root = show(<Health rest={["task", "nonsense"]} />, pageOf(fixture("standby")));
  expect(textOf(root)).toContain("no task of this name");
  expect(root.querySelector("a")?.getAttribute("href")).toBe("#/health");
});

test("a comparison becomes a calibration only when nothing is missing", () => {
  const pairs = [
    { shown: "0,1", true: "0" },
    { shown: "2", true: "2.1" },
  ];
  const calibration = (channel: string, way: Way, given: Pair[], initials: string) =>
    calibrationIn(channel, way, given, initials, (typed) => typed);
  expect(calibration("feed_pressure", "now", pairs, "MB")).toEqual({
    channel: "feed_pressure",
    points: [[null, 0]],
    initials: "MB",
  });
  expect(calibration("feed_pressure", "two", pairs, " MB ")?.["points"]).toEqual([
    [0.1, 0],
    [2, 2.1],
  ]);
  expect(calibration("product_flow", "bucket", [{ shown: "9.6", true: "10" }], "MB")?.["points"]).toEqual([
    [9.6, 10],
  ]);
  expect(calibration("feed_pressure", "now", pairs, "  ")).toBeNull();
  expect(calibration("feed_pressure", "two", pairs.slice(0, 1), "MB")).toBeNull();
  expect(calibration("feed_pressure", "noted", [{ shown: "", true: "1" }], "MB")).toBeNull();
  expect(calibration("feed_pressure", "now", [{ shown: "", true: "one" }], "MB")).toBeNull();
});

test("a boat that counts in psi, gallons and °F types and reads them everywhere in a task, and sends bar, litres and °C", async () => {
  const given: unknown[] = [];
  const page = pageOf(fixture("standby"), 0, {
    units: AMERICAN,
    perform: (command, args) => {
      given.push([command, args]);
      return Promise.resolve(true);
    },
  });
  const form = show(<CalibrateForm membrane={false} />, page);
  const [true_now, initials] = Array.from(form.querySelectorAll<HTMLInputElement>("input"));
  expect(textOf(form)).toContain("True now (psi)");
  expect(textOf(form)).not.toMatch(/\bbar\b/);
  act(() => {
    true_now!.value = "14.503774";
    true_now!.dispatchEvent(new Event("input", { bubbles: true }));
    initials!.value = "MB";
    initials!.dispatchEvent(new Event("input", { bubbles: true }));
  });
  press(button(form, "Set it right"));
  await settled();
  expect(given).toEqual([
    ["calibrate", { channel: expect.any(String), points: [[null, expect.closeTo(1, 9)]], initials: "MB" }],
  ]);
  const cleaning = taskNamed("cleaning")!;
  keep(
    cleaning,
    cleaning.steps.findIndex((step) => step.title === "Alkaline first"),
    DEVICE,
    Date.now(),
  );
  const screen = show(<TaskScreen task={cleaning} />, page);
  expect(textOf(screen)).toContain("Circulate below 58 psi");
  expect(textOf(screen)).toContain("95 °F at most");
});

test("where the high-pressure pump has to stay off, its button is not there", () => {
  const commissioning = taskNamed("commissioning")!;
  const screenAt = (title: string) => {
    const at = commissioning.steps.findIndex((step) => step.title === title);
    keep(commissioning, at, DEVICE, Date.now());
    return textOf(show(<TaskScreen key={title} task={commissioning} />, pageOf(fixture("standby"))));
  };
  expect(screenAt("Outputs one by one, water off")).toContain("Feed pump: off");
  expect(screenAt("Outputs one by one, water off")).not.toContain("High-pressure pump (jog)");
  expect(screenAt("High-pressure pump, as a jog")).toContain("High-pressure pump (jog): off");
  expect(screenAt("Purge of air")).toContain("Feed pump: off try 60 s");
  expect(screenAt("Purge of air")).not.toContain("High-pressure pump");
});

const SIGNATURE = { time: null, who: "Ana", note: "dry", seen: ["membrane pressure 0.1 bar"] };

function commissioned(...signed: string[]): Commissioning {
  const ids = ["begun", "safety", "chain", "output_feed_pump", "output_high_pressure_pump", "zeros"];
  return {
    begun: true,
    safety: [{ id: "two_people", text: "Two people." }],
    steps: ids.map((id) => ({
      id,
      name: id,
      measured: id === "zeros",
      signed: signed.includes(id) ? SIGNATURE : null,
    })),
  };
}

test("a commissioning goes on behind the last step that the plant has signed, whatever this device knows", () => {
  const commissioning = taskNamed("commissioning")!;
  const titleAt = (...signed: string[]) =>
    commissioning.steps[resumeAt(commissioning, commissioned(...signed))]?.title;
  expect(titleAt()).toBe("Begin");
  expect(titleAt("begun", "safety")).toBe("The chain, pumps' fuses out");
  expect(titleAt("begun", "chain")).toBe("Safety list");
  expect(titleAt("begun", "safety", "chain", "output_feed_pump")).toBe("Sensors at rest");
  expect(resumeAt(commissioning, commissioned())).toBe(0);
});

test("what the plant has not signed lets nobody pass, and neither does a plant that is not heard", () => {
  const steps = taskNamed("commissioning")!.steps;
  const outputs = steps.find((step) => step.kind === "outputs")!;
  expect(isSigned(outputs, commissioned("output_feed_pump"))).toBe(true);
  expect(isSigned(outputs, commissioned("output_high_pressure_pump"))).toBe(false);
  expect(isSigned(outputs, null)).toBe(false);
  expect(isSigned(steps[0]!, commissioned("begun"))).toBe(true);
});

test("a step is signed with its note and shows who signed it, and what was measured then", async () => {
  const perform = vi.fn(() => Promise.resolve(true));
  const done = vi.fn();
  const props = { commissioning: commissioned("begun"), note: "Why", onDone: done };
  const host = show(<Sign {...props} steps={["zeros"]} />, { ...pageOf(fixture("standby")), perform });
  expect(textOf(host)).toContain("Sign: zeros measured");
  press(button(host, "Sign: zeros measured"));
  await settled();
  expect(perform).toHaveBeenCalledWith("log", { kind: "commissioned", step: "zeros" });
  expect(done).toHaveBeenCalled();
  const again_ = show(<Sign {...props} steps={["begun"]} />, pageOf(fixture("standby")));
  expect(textOf(again_)).toContain("begun: Ana, date not known · membrane pressure 0.1 bar · dry");
});

test("the safety list is signed only with every point ticked", async () => {
  const perform = vi.fn(() => Promise.resolve(true));
  const page = { ...pageOf(fixture("standby")), perform };
  const host = show(<SafetyList commissioning={commissioned()} onDone={() => undefined} />, page);
  expect(button(host, "Sign the list").disabled).toBe(true);
  await act(() => {
    host.querySelector<HTMLInputElement>("input[type=checkbox]")!.click();
  });
  press(button(host, "Sign the list"));
  await settled();
  expect(perform).toHaveBeenCalledWith("log", {
    kind: "commissioned",
    step: "safety",
    confirmed: ["two_people"],
  });
});

test("no text of a task names a quantity that stays in one unit", () => {
  for (const task of TASKS) {
    const texts = [task.when, ...task.steps.flatMap((step) => [step.text, step.caution ?? ""])].join(" ");
    expect(texts).not.toMatch(/[^{]\b[\d.]+ (bar|°C|L)(?![\w/}])/);
  }
});

test("preservative is one percent of what the plant holds and half as much again", () => {
  expect([preservative_l(4), preservative_g(4)]).toEqual([6, 60]);
  expect([preservative_l(0.4), preservative_g(0.4)]).toEqual([0.6, 6]);
});
