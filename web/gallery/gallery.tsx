/** Every state of every part, side by side: for looking at, for pictures, for axe-core. Not part of the page. */

import { render } from "preact";
import type { Snapshot } from "../src/api";
import type { Instant, Seen } from "../src/age";
import { Screen, type Commands, type Over } from "../src/app";
import { startPalette } from "../src/palette";
import { fetchParts } from "../src/parts";
import { parseRoute } from "../src/router";
import type { ConditionName } from "../src/tasks/conditions";
import { DEVICE, keep } from "../src/tasks/engine";
import { TASKS, type Step, type Task } from "../src/tasks/table";
import "../src/styles/tokens.css";
import "../src/styles/base.css";
import "../src/styles/frame.css";
import "../src/styles/now.css";
import "../src/styles/sheet.css";
import "./gallery.css";

const found = import.meta.glob<Snapshot>("../fixtures/*.json", { eager: true, import: "default" });
const fixtures = new Map(
  Object.entries(found).map(([path, made]) => [path.replace(/^.*\/|\.json$/g, ""), made]),
);

const NOW: Instant = { steady_ms: 1_000_000, wall_ms: 1_000_000 };

function ago(seconds: number): Instant {
  return { steady_ms: NOW.steady_ms - seconds * 1000, wall_ms: NOW.wall_ms - seconds * 1000 };
}

function heard(name: string, age_s = 0): Seen {
  return { snapshot: fixtures.get(name) ?? null, heard: ago(age_s), began: ago(600), wantsPin: false };
}

const SILENT: Seen = { snapshot: null, heard: null, began: ago(1), wantsPin: false };

function still(over: Over | null, told: Commands["told"] = null): Commands {
  return {
    over,
    told,
    tell: () => undefined,
    heardAgain: () => undefined,
    show: () => undefined,
    perform: () => undefined,
    performWithPin: () => Promise.resolve(null),
  };
}

interface Sight {
  name: string;
  seen: Seen;
  over?: Over;
  told?: Commands["told"];
  /** The room shown, as the address has it behind the #. */
  room?: string;
  /** What is pressed once it stands there: the words of buttons, one after the other. */
  press?: string[];
  /** Where this device stands in a guided task. */
  at?: { task: Task; step: number };
}

const REASONS = fixtures.get("standby_flush_owed")?.refused?.["start"] ?? [];
const LONG = "The tank may be above its level sensor's highest mark, or the sensor's wire is broken. ";

function standing(over: Over, name: string, fixture = "standby"): Sight {
  return { name, seen: heard(fixture), over };
}

/** Of another version than this page: it says so and offers to be loaded again. */
function newer(): Seen {
  const seen = heard("standby");
  return { ...seen, snapshot: seen.snapshot && { ...seen.snapshot, version: "999.0.0" } };
}

/** On a boat whose only flow meter is that of product. */
function fewMeters(name: string): Seen {
  const seen = heard(name);
  if (seen.snapshot === null) return seen;
  const { brine_flow, flush_flow, ...readings } = seen.snapshot.readings;
  return { ...seen, snapshot: { ...seen.snapshot, readings } };
}

const FEW_METERS: Sight[] = ["priming", "producing", "flushing"].map((name) => ({
  name: `${name} with few meters`,
  seen: fewMeters(name),
}));

const LINKS: Sight[] = [
  { name: "late by 5 s", seen: heard("producing", 5) },
  { name: "server lost for 3 min", seen: heard("producing", 180) },
  { name: "lost with alarms", seen: heard("many_alarms", 40) },
  { name: "seeking", seen: SILENT },
  { name: "unreachable", seen: { ...SILENT, began: ago(60) } },
  { name: "server newer than the page", seen: newer() },
];

const SHEETS: Sight[] = [
  standing({ kind: "start" }, "start sheet"),
  standing({ kind: "start" }, "start sheet in US units", "american"),
  standing({ kind: "flush" }, "flush sheet"),
  standing({ kind: "refused", title: "Start was refused", reasons: REASONS }, "start refused"),
  standing(
    { kind: "refused", title: "Start was refused", reasons: Array<string>(12).fill(LONG.repeat(2)) },
    "refused for a dozen long reasons",
  ),
  standing(
    { kind: "pin", wants: "session", why: null, command: "start", args: {}, done: () => undefined },
    "PIN",
  ),
  standing(
    {
      kind: "pin",
      wants: "again",
      why: "Enter the PIN once more.",
      command: "reset",
      args: {},
      done: () => undefined,
    },
    "PIN once more",
    "tripped_ready",
  ),
  standing({ kind: "read_pin" }, "PIN before anything is shown"),
];

const TOLD: Sight[] = [
  { name: "command taken", seen: heard("standby"), told: { text: "Flush: accepted.", bad: false } },
  {
    name: "stop did not get through",
    seen: heard("producing", 30),
    told: { text: "Stop did not get through. Press the stop button at the plant.", bad: true },
  },
];

const ALARMS: Sight[] = [
  { name: "all alarms at once", seen: heard("many_alarms"), press: ["more alarm"] },
  { name: "a further alarm opened", seen: heard("many_alarms"), press: ["Pressure does not"] },
  { name: "an alarm in full", seen: heard("tripped"), press: ["More"] },
  { name: "long texts in full", seen: heard("long_texts"), press: ["More"] },
];

const ROOMS: Sight[] = [
  { name: "log with all alarms", seen: heard("many_alarms"), room: "log" },
  { name: "plan with what is asked", seen: heard("pressurising"), room: "plan" },
  { name: "trends", seen: heard("producing"), room: "trends" },
  { name: "trends in US units", seen: heard("american"), room: "trends" },
  { name: "trends: choosing", seen: heard("producing"), room: "trends", press: ["Choose what is shown"] },
  { name: "log: runs", seen: heard("standby"), room: "log" },
  { name: "log: alarms", seen: heard("standby"), room: "log", press: ["Alarms"] },
  {
    name: "log: an alarm opened",
    seen: heard("standby"),
    room: "log",
    press: ["Alarms", "inlet pressure too low"],
  },
  { name: "log: work", seen: heard("standby"), room: "log", press: ["Work"] },
  { name: "log: events", seen: heard("standby"), room: "log", press: ["Events"] },
  { name: "log: one run", seen: heard("standby"), room: "log/141" },
  { name: "health", seen: heard("standby"), room: "health" },
  { name: "health with an alarm", seen: heard("tripped"), room: "health" },
  {
    name: "health: everything open",
    seen: heard("standby"),
    room: "health",
    press: ["In order", "Sensors, shown", "Limits in force", "Calibrations in force", "How the record"],
  },
  {
    name: "health: another phone",
    seen: heard("standby"),
    room: "health",
    press: ["another phone", "Show the code"],
  },
  {
    name: "health: calibrations in US units",
    seen: heard("american"),
    room: "health",
    press: ["Calibrations"],
  },
  { name: "health: practising a fault", seen: heard("standby"), room: "health", press: ["Practise a fault"] },
  { name: "plan", seen: heard("standby"), room: "plan" },
  { name: "plan in US units", seen: heard("american"), room: "plan" },
  { name: "plan: what if", seen: heard("standby"), room: "plan", press: ["What if", "+"] },
  { name: "plan: a forbidden water", seen: heard("standby"), room: "plan", press: ["Silt"] },
  { name: "plan: a forecast", seen: heard("standby"), room: "plan", press: ["Sun and sea of"] },
];

/** What the plant does at a step that waits for something. */
const MEANWHILE: Partial<Record<ConditionName, string>> = {
  making_water: "producing",
  rinsed: "pressurising",
  purged: "diverting",
  locked: "locked",
  laid_up: "laid_up",
  flushed: "standby_flush_owed",
  nothing_owed: "purge_to_confirm",
};

function meanwhile(step: Step): string {
  if (step.kind === "lock") return "locked";
  if (step.kind === "calibrate" && step.of === "membrane") return "producing";
  return ("until" in step && step.until !== undefined && MEANWHILE[step.until]) || "standby";
}

/** Every step of every guided task. */
const STEPS: Sight[] = TASKS.flatMap((task) =>
  task.steps.map((step, at) => ({
    name: `task ${task.id} ${at + 1}`,
    seen: heard(meanwhile(step)),
    room: `health/task/${task.id}`,
    at: { task, step: at },
  })),
);

const CLEANING = TASKS.find((task) => task.id === "cleaning");
const SENSOR = TASKS.find((task) => task.id === "sensor");

const IN_TASKS: Sight[] = [
  ...(CLEANING === undefined
    ? []
    : [
        {
          name: "task in US units",
          seen: heard("american"),
          room: "health/task/cleaning",
          at: { task: CLEANING, step: 3 },
        },
      ]),
  ...(SENSOR === undefined
    ? []
    : [
        {
          name: "task while the link is lost",
          seen: heard("standby", 60),
          room: "health/task/sensor",
          at: { task: SENSOR, step: 2 },
        },
      ]),
];

const SIGHTS: Sight[] = [
  ...[...fixtures.keys()].map((name) => ({ name, seen: heard(name) })),
  ...FEW_METERS,
  ...LINKS,
  ...SHEETS,
  ...TOLD,
  ...ALARMS,
  ...ROOMS,
  ...STEPS,
  ...IN_TASKS,
];

function One({ seen, over, told, room = "now" }: Sight) {
  return (
    <Screen
      seen={seen}
      now={NOW}
      route={parseRoute(`#/${room}`)}
      commands={still(over ?? null, told)}
      again={() => undefined}
    />
  );
}

const PATIENCE_FRAMES = 120;

const frame = () => new Promise(requestAnimationFrame);

/** Presses what bears the words as soon as it is there: some parts come only when the server has answered. */
async function press(root: HTMLElement, words: string[]): Promise<void> {
  for (const word of words) {
    for (let frames = 0; frames < PATIENCE_FRAMES; frames += 1) {
      await frame();
      const found = Array.from(root.querySelectorAll<HTMLElement>("button, summary"));
      const wanted = found.find((each) => each.textContent?.includes(word));
      if (wanted !== undefined) {
        wanted.click();
        break;
      }
    }
  }
  await frame();
}

/** Each sight in a frame of its own: the style follows the width of the window it stands in. */
function Gallery() {
  return (
    <main class="gallery">
      <h1>Every state</h1>
      {SIGHTS.map(({ name }) => (
        <section key={name} class="sight" data-name={name}>
          <h2>{name}</h2>
          <iframe title={name} src={`#${encodeURIComponent(name)}`} loading="lazy" width="360" height="740" />
        </section>
      ))}
    </main>
  );
}

/** The sight named behind the #, or all of them. */
async function showAsked(root: HTMLElement): Promise<void> {
  const name = decodeURIComponent(location.hash.slice(1));
  const sight = SIGHTS.find((each) => each.name === name);
  for (const task of TASKS) keep(task, sight?.at?.task === task ? sight.at.step : null, DEVICE, Date.now());
  root.className = sight === undefined ? "all" : "one";
  render(sight === undefined ? <Gallery /> : <One key={name} {...sight} />, root);
  await press(root, sight?.press ?? []);
  root.dataset["shows"] = name;
}

startPalette();
const root = document.getElementById("page");
if (root !== null) {
  root.dataset["has"] = JSON.stringify(SIGHTS.map((each) => each.name));
  // A sight is a picture of what has come, not of the wait for it.
  void fetchParts().then(() => showAsked(root));
  addEventListener("hashchange", () => void showAsked(root));
}
