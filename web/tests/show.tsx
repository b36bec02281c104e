import { render, type VNode } from "preact";
import { act } from "preact/test-utils";
import type { Snapshot } from "../src/api";
import { view, type Instant, type Seen } from "../src/age";
import { PageContext, type Page } from "../src/page";
import { METRIC } from "../src/units";

const found = import.meta.glob<Snapshot>("../fixtures/*.json", { eager: true, import: "default" });

export const FIXTURES = new Map(
  Object.entries(found).map(([path, made]) => [path.replace(/^.*\/|\.json$/g, ""), made]),
);

export function fixture(name: string): Snapshot {
  const made = FIXTURES.get(name);
  if (made === undefined) throw new Error(`no fixture ${name}`);
  return structuredClone(made);
}

type Watcher = (entries: { intersectionRatio: number }[]) => void;

/** Stands in for the browser's: a test says how much of what is watched can be seen. */
export const sight = {
  told: new Set<Watcher>(),
  tell(ratio: number) {
    act(() => this.told.forEach((each) => each([{ intersectionRatio: ratio }])));
  },
};

globalThis.IntersectionObserver = class {
  constructor(private readonly seen: Watcher) {}
  observe() {
    sight.told.add(this.seen);
  }
  disconnect() {
    sight.told.delete(this.seen);
  }
} as unknown as typeof IntersectionObserver;

export const NOW: Instant = { steady_ms: 1_000_000, wall_ms: 1_000_000 };

export function ago(seconds: number): Instant {
  return { steady_ms: NOW.steady_ms - seconds * 1000, wall_ms: NOW.wall_ms - seconds * 1000 };
}

export function heard(snapshot: Snapshot | null, age_s = 0): Seen {
  return { snapshot, heard: snapshot === null ? null : ago(age_s), began: ago(600), wantsPin: false };
}

export function pageOf(snapshot: Snapshot | null, age_s = 0, change: Partial<Page> = {}): Page {
  const seen = heard(snapshot, age_s);
  return {
    snapshot,
    view: view(seen, NOW),
    units: snapshot?.units ?? METRIC,
    perform: () => undefined,
    openStart: () => undefined,
    ...change,
  };
}

/** Puts a part on an empty page and gives back the element it stands in. */
export function show(part: VNode, page: Page = pageOf(null)): HTMLElement {
  document.body.innerHTML = "<div></div>";
  const root = document.body.firstElementChild as HTMLElement;
  act(() => render(<PageContext.Provider value={page}>{part}</PageContext.Provider>, root));
  return root;
}

export function again(root: HTMLElement, part: VNode, page: Page = pageOf(null)): void {
  act(() => render(<PageContext.Provider value={page}>{part}</PageContext.Provider>, root));
}

export function button(root: HTMLElement, text: string): HTMLButtonElement {
  const one = Array.from(root.querySelectorAll("button")).find((each) => each.textContent?.includes(text));
  if (one === undefined) throw new Error(`no button says ${text}`);
  return one;
}

export function press(element: HTMLElement): void {
  act(() => element.click());
}

export function textOf(element: Element): string {
  return (element.textContent ?? "")
    .replace(/[\u00a0\u202f]/g, " ")
    .replace(/\s+/g, " ")
    .trim();
}
