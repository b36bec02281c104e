import { act } from "preact/test-utils";
import { expect, test } from "vitest";
import type { Snapshot } from "../src/api";
import { FlushAlone } from "../src/rooms/FlushAlone";
import { fixture, pageOf, press, show, textOf } from "./show";

type Alone = NonNullable<Snapshot["flush_alone"]>;

function standby(alone: Partial<Alone> | null, refused: string[] = []): Snapshot {
  const snapshot = fixture("standby");
  const none: Alone = {
    flush_l: 12,
    tank_percent: 30,
    next_s: null,
    notice_left_s: null,
    by: null,
    until: null,
    left_l: null,
    failures: 0,
    next: null,
    not_now: [],
  };
  snapshot.flush_alone = alone === null ? null : { ...none, ...alone };
  snapshot.refused = { ...snapshot.refused, consent_flush: refused };
  return snapshot;
}

test("where the owner's file does not allow it nothing is offered", () => {
  expect(textOf(show(<FlushAlone />, pageOf(standby(null))))).toBe("");
});

test("a consent says who, how much, when and why not yet, and is taken back by one press", () => {
  const given: unknown[] = [];
  const alone = {
    by: "Ana",
    until: "2026-09-22T14:13:20.000Z",
    next: "2026-09-21T15:13:20.000Z",
    next_s: 3600,
    left_l: 24,
    failures: 1,
    not_now: ["The tank holds 31 %."],
  };
  const page = pageOf(standby(alone), 0, { perform: (...order) => void given.push(order) });
  const shown = show(<FlushAlone />, page);
  const said = textOf(shown);
  for (const part of ["Ana", "12", "24", "The last one failed", "The tank holds 31 %."])
    expect(said).toContain(part);
  press(shown.querySelector("button")!);
  expect(given).toEqual([["withdraw_flush_consent"]]);
});

test("a consent wants a name, and is not offered over what speaks against it", () => {
  const given: unknown[] = [];
  const change = { perform: (...order: unknown[]) => void given.push(order) };
  const shown = show(<FlushAlone />, pageOf(standby({}), 0, change));
  const button = shown.querySelector("button")!;
  expect(button.disabled).toBe(true);
  const name = shown.querySelector("input")!;
  act(() => {
    name.value = " Ana ";
    name.dispatchEvent(new Event("input", { bubbles: true }));
  });
  expect(button.disabled).toBe(false);
  act(() => {
    shown.querySelector("form")!.dispatchEvent(new Event("submit", { cancelable: true }));
  });
  expect(given).toEqual([["consent_flush", { name: "Ana", days: 7 }]]);

  const refused = show(<FlushAlone />, pageOf(standby({}, ["No bilge sensor is fitted."])));
  expect(textOf(refused)).toContain("No bilge sensor is fitted.");
  expect(refused.querySelector("button")!.disabled).toBe(true);
});
