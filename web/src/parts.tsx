/** What is not needed at the first look: every part that is fetched later, under the name a person knows it by. */

import { Fragment, type ComponentChildren } from "preact";
import { Sheet } from "./dialogs/Sheet";
import { later } from "./later";

interface Closable {
  onClose: () => void;
}

/** A sheet can be closed while it is still to come. */
function waiting(title: string) {
  return ({ onClose, children }: Closable & { children: ComponentChildren }) => (
    <Sheet title={title} onClose={onClose}>
      {children}
    </Sheet>
  );
}

export const StartSheet = later(
  "the start",
  () => import("./dialogs/sheets").then((made) => made.StartSheet),
  waiting("Start making water"),
);
export const FlushSheet = later(
  "the flush",
  () => import("./dialogs/sheets").then((made) => made.FlushSheet),
  waiting("Flush with fresh water"),
);
export const PinDialog = later(
  "the question for the PIN",
  () => import("./dialogs/sheets").then((made) => made.PinDialog),
  waiting("The boat's PIN"),
);
export const Due = later("what is due", () => import("./now/Due").then((made) => made.Due));
export const RunTrend = later("the trend of this run", () =>
  import("./now/RunTrend").then((made) => made.RunTrend),
);
export const Trends = later("Trends", () => import("./trends/Trends").then((made) => made.Trends));
export const Log = later("Log", () => import("./rooms/Log").then((made) => made.Log));
export const Health = later("Health", () => import("./rooms/Health").then((made) => made.Health));
export const Plan = later("Plan", () => import("./rooms/Plan").then((made) => made.Plan));
export const Tasks = later("the guided tasks", () => import("./tasks/Tasks").then((made) => made.TaskRoom));
export const Practice = later("the practice", () =>
  import("./practice/Practice").then((made) => made.Practice),
);
export const TaskList = later("the guided tasks", () =>
  import("./tasks/Tasks").then((made) => made.TaskList),
);

/** The drawing library is the heaviest of all: it comes with the first chart that is looked at. */
export const Chart = later("the chart", () => import("./trends/Chart").then((made) => made.Chart), Fragment);

/** In the order in which they will be wanted. */
const PARTS = [
  StartSheet,
  FlushSheet,
  PinDialog,
  Due,
  RunTrend,
  Trends,
  Log,
  Health,
  Plan,
  Tasks,
  TaskList,
  Practice,
];

/** One after the other, so that none takes the link from the readings for long. What fails is told when it is opened. */
export async function fetchParts(): Promise<void> {
  for (const part of PARTS) await part.fetch().catch(() => undefined);
}

async function fetchEverything(): Promise<void> {
  await fetchParts();
  await Chart.fetch().catch(() => undefined);
}

/** Long enough for the first readings to be drawn. */
const IDLE_AFTER_MS = 2000;

/** Fetches everything once the page has nothing else to do; gives back how to give that up. */
export function fetchWhenIdle(): () => void {
  // Safari tells nobody when it is idle: there the pause alone counts.
  const whenIdle = window.requestIdleCallback ?? ((then: () => void) => then());
  const timer = setTimeout(() => whenIdle(() => void fetchEverything()), IDLE_AFTER_MS);
  return () => clearTimeout(timer);
}
