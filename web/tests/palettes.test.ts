import { readFileSync } from "node:fs";
import { expect, test } from "vitest";

const CSS = readFileSync("src/styles/tokens.css", "utf8");

/** The colours of one palette; what it does not set it has from day. */
function palette(name: string): Map<string, string> {
  const block = (head: string) => CSS.split(head)[1]?.split("}")[0] ?? "";
  const set = (text: string) =>
    [...text.matchAll(/--([\w-]+): (#[0-9a-f]{6});/g)].map(([, id, hex]) => [id!, hex!] as const);
  return new Map([
    ...set(block(":root {")),
    ...(name === "day" ? [] : set(block(`[data-palette="${name}"] {`))),
  ]);
}

function rgb(hex: string): [number, number, number] {
  return [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16)) as [number, number, number];
}

/** Relative luminance and contrast: WCAG 2.2, "relative luminance" and "contrast ratio". */
function luminance(hex: string): number {
  const [r, g, b] = rgb(hex).map((part) => {
    const share = part / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(one: string, other: string): number {
  const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b) as [number, number];
  return (high + 0.05) / (low + 0.05);
}

const READ: [string, string][] = [
  ["ink", "bg"],
  ["ink", "paper"],
  ["ink-2", "bg"],
  ["ink-2", "paper"],
  ["main-ink", "main"],
  ["on-ink", "on"],
  ["urgent-ink", "urgent"],
  ["high-ink", "high"],
  ["low-ink", "low"],
  ["bad-text", "bg"],
  ["limit", "paper"],
];
const SEEN: [string, string][] = [
  ["edge", "paper"],
  ["focus", "bg"],
  ["focus", "paper"],
  ["high-line", "bg"],
  ["water", "bg"],
];

// The canvas of a trend is beyond what axe-core can see: its colours are measured here.
test.each(["day", "dusk", "night"])(
  "%s: words reach 4.5 to 1, edges and marks 3 to 1 (WCAG 2.2 AA)",
  (name) => {
    const colours = palette(name);
    const ratio = ([front, back]: [string, string]) => contrast(colours.get(front)!, colours.get(back)!);
    expect(READ.filter((pair) => ratio(pair) < 4.5)).toEqual([]);
    expect(SEEN.filter((pair) => ratio(pair) < 3)).toEqual([]);
  },
);

test("day: what is small and grey is read at noon, 7 to 1 on every ground it stands on (WCAG 2.2 AAA)", () => {
  const colours = palette("day");
  for (const ground of ["bg", "paper", "low", "sea"]) {
    expect(contrast(colours.get("ink-2")!, colours.get(ground)!), ground).toBeGreaterThanOrEqual(7);
  }
});

test("night is red on black: no colour has more green or blue than red, none is half as bright as white", () => {
  const colours = [...palette("night").entries()];
  expect(colours.length).toBeGreaterThan(20);
  for (const [name, hex] of colours) {
    const [r, g, b] = rgb(hex);
    expect(Math.max(g, b), name).toBeLessThanOrEqual(r * 0.65);
    expect(luminance(hex), name).toBeLessThan(0.5);
  }
});
