/** Which actions make sense now, and why one is refused. Stop is always among them. */

import { toAcknowledge } from "./alarms";
import type { Arguments, Plant, Snapshot, State } from "./api";
import type { View } from "./age";

export type ActionId = "see_alarm" | "start" | "flush" | "acknowledge" | "reset" | "recommission";

export interface Action {
  id: ActionId;
  label: string;
  /** Why the daemon would refuse it now; empty when it would not. */
  refused: string[];
  args?: Arguments;
  note?: string;
}

export interface Actions {
  offered: Action[];
  stop: { label: string; prominent: boolean };
}

const LABELS: Record<ActionId, string> = {
  see_alarm: "See the alarm",
  start: "Start…",
  flush: "Flush…",
  acknowledge: "Acknowledge",
  reset: "Reset",
  recommission: "Recommission…",
};

const MAKES_SENSE: Partial<Record<State, ActionId[]>> = {
  standby: ["start", "flush"],
  tripped: ["reset"],
  laid_up: ["recommission"],
};

const RUNNING: ReadonlySet<State> = new Set<State>([
  "priming",
  "pressurising",
  "diverting",
  "producing",
  "stopping",
  "flushing",
  "hand_run",
  "bench",
]);

function action(id: ActionId, plant: Plant): Action {
  const reasons = plant.refused?.[id];
  if (reasons !== undefined && reasons.length > 0) return { id, label: LABELS[id], refused: reasons };
  const allowed = plant.allowed_commands;
  const unexplained = allowed !== null && !allowed.includes(id);
  return { id, label: LABELS[id], refused: unexplained ? ["It is not possible in this state."] : [] };
}

/** Where a person's own switch runs the pump, Stop can only ask that person. */
function stopLabel(view: View, drive: Snapshot["drive"]): string {
  const byHand = view.plant?.state === "hand_run" || (drive?.pump === "watch_only" && isRunning(view));
  return byHand ? "Ask to stop: switch the pump off by hand" : "Stop";
}

export function isRunning(view: View): boolean {
  const state = view.plant?.state;
  return !view.past && state !== null && state !== undefined && RUNNING.has(state);
}

/** Only the alarm that is read on the page can be acknowledged; where it is out of sight, the way leads to it. */
function forAlarms(plant: Plant, alarmInSight: boolean): Action[] {
  const [first, ...others] = toAcknowledge(plant);
  if (first === undefined) return [];
  if (!alarmInSight) return [{ id: "see_alarm", label: LABELS.see_alarm, refused: [] }];
  const note = others.length === 0 ? {} : { note: `the first of ${others.length + 1}` };
  return [{ ...action("acknowledge", plant), args: { alarm: first.id }, ...note }];
}

/** A flush that is owed comes first: it is the one thing the plant still wants done. */
function sensible(plant: Plant): ActionId[] {
  const ids = (plant.state === null ? undefined : MAKES_SENSE[plant.state]) ?? [];
  const owed = plant.owed?.flush === true && ids.includes("flush");
  return owed ? ["flush", ...ids.filter((id) => id !== "flush")] : ids;
}

export function actions(view: View, drive: Snapshot["drive"] = null, alarmInSight = true): Actions {
  const stop = { label: stopLabel(view, drive), prominent: isRunning(view) };
  const plant = view.plant;
  if (view.past || plant === null || plant.state === null) return { offered: [], stop };
  const alarm = forAlarms(plant, alarmInSight);
  return { offered: [...alarm, ...sensible(plant).map((id) => action(id, plant))].slice(0, 2), stop };
}
