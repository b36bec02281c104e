/** Where a person is in a task: kept on this device, so that a locked phone or a dropped link loses nothing. */

import type { Task } from "./table";

export interface Store {
  get: (key: string) => string | null;
  set: (key: string, value: string | null) => void;
}

const KEY = "halocline.task.";
const DAY_MS = 24 * 3600_000;
const KEPT_DAYS = 1.5;

/** A task left for longer than this is begun anew: the plant is another by then. */
export function forgottenAfter_ms({ kept_days = KEPT_DAYS }: Task): number {
  return kept_days * DAY_MS;
}

export const DEVICE: Store = {
  get: (key) => {
    try {
      return localStorage.getItem(key);
    } catch {
      return null;
    }
  },
  set: (key, value) => {
    try {
      if (value === null) localStorage.removeItem(key);
      else localStorage.setItem(key, value);
    } catch {
      // A device that keeps nothing: the task goes on until the page is closed.
    }
  },
};

/** The step a task stands at, null when it was not begun. */
export function kept(task: Task, store: Store, now_ms: number): number | null {
  const [step, at] = (store.get(KEY + task.id) ?? "").split(" ").map(Number);
  if (step === undefined || at === undefined || !Number.isInteger(step) || !Number.isFinite(at)) return null;
  if (now_ms - at > forgottenAfter_ms(task) || step < 0 || step >= task.steps.length) return null;
  return step;
}

export function keep(task: Task, step: number | null, store: Store, now_ms: number): void {
  store.set(KEY + task.id, step === null ? null : `${step} ${now_ms}`);
}
