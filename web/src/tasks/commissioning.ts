/** How far a commissioning is: the plant's record knows, not this device. */

import type { Schemas } from "../api";
import type { Step, Task } from "./table";

export type Commissioning = Schemas["Commissioning"];
export type CommissioningStep = Schemas["CommissioningStep"];

const OUTPUT = "output_";
const JOGGED = "output_high_pressure_pump";

/** The ids of the outputs that a step of the task signs, as the plant has them. */
export function outputSteps(step: Step & { kind: "outputs" }, commissioning: Commissioning | null): string[] {
  const all = (commissioning?.steps ?? []).map(({ id }) => id).filter((id) => id.startsWith(OUTPUT));
  return all.filter((id) => (id === JOGGED) === (step.which === "jog"));
}

/** What has to be signed before a step of the task is over; null for a step that is not signed. */
export function signedBy(step: Step, commissioning: Commissioning | null): string[] | null {
  if (step.kind === "sign") return [step.step];
  if (step.kind === "safety") return ["safety"];
  return step.kind === "outputs" ? outputSteps(step, commissioning) : null;
}

/** Whether all of it is signed; nothing known is not signed. */
export function isSigned(step: Step, commissioning: Commissioning | null): boolean {
  const wanted = signedBy(step, commissioning);
  if (wanted === null || commissioning === null) return false;
  const signed = new Set(commissioning.steps.filter((one) => one.signed !== null).map(({ id }) => id));
  return wanted.every((id) => signed.has(id));
}

/** Where to go on: behind the last step that is signed with all signed steps before it; 0 where none is. */
export function resumeAt(task: Task, commissioning: Commissioning): number {
  let at = 0;
  for (const [index, step] of task.steps.entries()) {
    if (signedBy(step, commissioning) === null) continue;
    if (!isSigned(step, commissioning)) break;
    at = Math.min(index + 1, task.steps.length - 1);
  }
  return at;
}
