/** Which alarms come first, and which still want a person. */

import type { Alarm, Plant, Priority } from "./api";

const RANK: Record<Priority, number> = { urgent: 0, high: 1, low: 2, log: 3 };

export const PRIORITY_WORDS: Record<Priority, string> = {
  urgent: "Urgent",
  high: "High priority",
  low: "Low priority",
  log: "Note",
};

const STATE_WORDS: Partial<Record<Alarm["state"], string>> = {
  acknowledged: "acknowledged",
  "returned-unacknowledged": "gone, not acknowledged",
  latched: "gone, waits for reset",
  shelved: "set aside",
  suppressed: "caused by the alarm above",
};

export function stateWords(alarm: Alarm): string | null {
  return STATE_WORDS[alarm.state] ?? null;
}

export function wantsAcknowledging(alarm: Alarm): boolean {
  return alarm.state === "unacknowledged" || alarm.state === "returned-unacknowledged";
}

/** Whether it is so grave, and so new to everybody, that it is always shown. */
export function presses(alarm: Alarm): boolean {
  return wantsAcknowledging(alarm) && RANK[alarm.priority] <= RANK.high;
}

/** Whether it is told beside another room: what is set aside, and what only follows from another alarm, is not. */
export function speaksUp(alarm: Alarm): boolean {
  return alarm.state !== "shelved" && alarm.state !== "suppressed" && alarm.priority !== "log";
}

/** Acknowledged one at a time, in this order, so that none is acknowledged that was not seen. */
export function toAcknowledge(plant: Plant | null): Alarm[] {
  return inOrder(plant).filter(wantsAcknowledging);
}

/** Highest priority first; within one priority what nobody has acknowledged, then the first cause, then the oldest. */
export function inOrder(plant: Plant | null): Alarm[] {
  const listed = (plant?.alarms ?? []).filter((alarm) => alarm.state !== "normal");
  const key = (alarm: Alarm): [number, number, number, string] => [
    alarm.state === "shelved" || alarm.state === "suppressed" ? 9 : RANK[alarm.priority],
    wantsAcknowledging(alarm) ? 0 : 1,
    alarm.id === plant?.first_out ? 0 : 1,
    alarm.since ?? "",
  ];
  return listed
    .map((alarm) => ({ alarm, key: key(alarm) }))
    .sort((a, b) => {
      for (const at of [0, 1, 2, 3] as const) {
        if (a.key[at] < b.key[at]) return -1;
        if (a.key[at] > b.key[at]) return 1;
      }
      return 0;
    })
    .map(({ alarm }) => alarm);
}

/** What a screen reader hears when alarms come and go; null when nothing did. */
export function announcement(before: Alarm[], after: Alarm[]): string | null {
  const known = new Set(before.map((alarm) => alarm.id));
  const come = after.filter((alarm) => !known.has(alarm.id) && alarm.priority !== "log");
  if (come.length > 0) {
    return come.map((alarm) => `${PRIORITY_WORDS[alarm.priority]} alarm. ${alarm.means}`).join(" ");
  }
  return before.length > 0 && after.length === 0 ? "No alarm any more." : null;
}
