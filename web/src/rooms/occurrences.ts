/** From the steps of the alarm journal to the alarms a person remembers: each with all that became of it. */

import type { AlarmStep } from "../api";

export interface Occurrence {
  /** Earliest first; the first is the raise, where the record still has it. */
  steps: [AlarmStep, ...AlarmStep[]];
}

/** A raise after the end of the one before is a new alarm; a return before anybody acknowledged is still the old one. */
export function occurrences(journal: readonly AlarmStep[]): Occurrence[] {
  const found: Occurrence[] = [];
  const open = new Map<string, Occurrence>();
  for (const step of [...journal].reverse()) {
    const known = open.get(step.id);
    if (known === undefined) {
      const made: Occurrence = { steps: [step] };
      found.push(made);
      open.set(step.id, made);
    } else known.steps.push(step);
    if (step.to === "normal") open.delete(step.id);
  }
  return found.reverse();
}
