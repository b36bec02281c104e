import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { Screen, type Commands } from "../src/app";
import { parseRoute } from "../src/router";
import { FIXTURES, heard, NOW, show, textOf } from "./show";

const COMMANDS: Commands = {
  over: null,
  told: null,
  show: () => undefined,
  perform: () => undefined,
  performWithPin: () => Promise.resolve(null),
};

function whole(name: string, age_s = 0): HTMLElement {
  const seen = heard(FIXTURES.get(name) ?? null, age_s);
  return show(
    <Screen seen={seen} now={NOW} route={parseRoute("#/now")} commands={COMMANDS} again={() => undefined} />,
  );
}

test.each([...FIXTURES.keys()])(
  "%s: simulated is said, Stop is there, nobody is told it is safe to drink",
  (name) => {
    for (const age_s of [0, 5, 60]) {
      const root = whole(name, age_s);
      const text = textOf(root);
      expect(text.includes("SIMULATED")).toBe(FIXTURES.get(name)?.simulated);
      expect(root.querySelector(".stop")?.textContent).toMatch(/^Stop$|^Ask to stop/);
      expect(text).not.toMatch(/safe to drink|potable|drinkable/i);
      expect(text).not.toMatch(/NaN|undefined|Infinity|\[object/);
    }
  },
);

test("names and texts from outside are shown as text", () => {
  const snapshot = structuredClone(FIXTURES.get("locked")!);
  snapshot.boat = "<img src=x onerror=alert(1)>";
  const root = show(
    <Screen
      seen={heard(snapshot)}
      now={NOW}
      route={parseRoute("")}
      commands={COMMANDS}
      again={() => undefined}
    />,
  );
  expect(root.querySelector("img")).toBeNull();
  expect(textOf(root)).toContain("<img src=x onerror=alert(1)>");
});

test("the page itself carries no inline script and no inline style", () => {
  const html = readFileSync("index.html", "utf8");
  expect(html).not.toMatch(/<script(?![^>]*\bsrc=)/);
  expect(html).not.toMatch(/<style|style=|\son\w+=/);
});
