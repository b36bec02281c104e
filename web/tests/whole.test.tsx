import { readFileSync } from "node:fs";
import { beforeAll, expect, test, vi } from "vitest";
import { Screen, type Commands, type Over } from "../src/app";
import { fetchParts } from "../src/parts";
import { parseRoute } from "../src/router";
import { again, button, FIXTURES, heard, NOW, press, show, sight, textOf } from "./show";

beforeAll(fetchParts);
// A room asks the server: what came after the test's end would find the page gone.
beforeAll(() => void vi.stubGlobal("fetch", () => new Promise<Response>(() => undefined)));

const COMMANDS: Commands = {
  over: null,
  told: null,
  tell: () => undefined,
  heardAgain: () => undefined,
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

function screenOf(name: string, hash: string, commands: Commands = COMMANDS) {
  const seen = heard(FIXTURES.get(name)!);
  return (
    <Screen seen={seen} now={NOW} route={parseRoute(hash)} commands={commands} again={() => undefined} />
  );
}

function old(name: string, hash: string) {
  const seen = heard(FIXTURES.get(name)!, 60);
  return (
    <Screen seen={seen} now={NOW} route={parseRoute(hash)} commands={COMMANDS} again={() => undefined} />
  );
}

test("an alarm scrolled out of sight says so above everything, and is not acknowledged unread", () => {
  const perform = vi.fn();
  const root = show(screenOf("tripped", "#/now", { ...COMMANDS, perform }));
  expect(root.querySelector(".alarm-line")).toBeNull();
  root.querySelector("main")!.scrollTop = 300;
  sight.tell(0);
  expect(textOf(root.querySelector(".alarm-line")!)).toContain("High priority:");
  press(button(root.querySelector(".actions")!, "See the alarm"));
  expect(perform).not.toHaveBeenCalled();
  expect(root.querySelector("main")!.scrollTop).toBe(0);
  sight.tell(1);
  press(button(root.querySelector(".actions")!, "Acknowledge"));
  expect(perform).toHaveBeenCalledWith("acknowledge", { alarm: "feed_pressure_low_low" });
});

test.each(["trends", "log", "health", "plan"])(
  "with every alarm at once %s keeps its room: one line for them, one for what a person must do",
  (room) => {
    const root = show(screenOf("many_alarms", `#/${room}`));
    expect(root.querySelectorAll("main .alarm, main .said, main .ask")).toHaveLength(0);
    expect(textOf(root.querySelector(".alarm-line")!)).toBe("!Urgent: Water under the plantand 6 more");
    expect(textOf(root.querySelector(".ask-line")!)).toBe(
      "For you to do: Open the regulator fully.now 21.3 bar",
    );
  },
);

test("an acknowledged alarm that stands is still told beside another room, and not on old news", () => {
  const root = show(screenOf("hand_run", "#/log"));
  expect(textOf(root.querySelector(".alarm-line")!)).toMatch(/^!Urgent: /);
  expect(show(old("hand_run", "#/log")).querySelector(".alarm-line, .ask-line")).toBeNull();
});

test("what a person must do follows down to the buttons when its place is scrolled out of sight", () => {
  const root = show(screenOf("pressurising", "#/now"));
  expect(root.querySelector(".ask-line")).toBeNull();
  sight.tell(0);
  expect(textOf(root.querySelector(".ask-line")!)).toContain("to 55 bar.now 31.4 bar");
  root.querySelector("main")!.scrollTop = 300;
  press(root.querySelector<HTMLElement>(".ask-line")!);
  expect(root.querySelector("main")!.scrollTop).toBe(0);
});

test("a pressure that is not measured well is no number to work by", () => {
  const snapshot = structuredClone(FIXTURES.get("many_alarms")!);
  snapshot.readings!["vessel_pressure"]!.quality = "open";
  const root = show(
    <Screen
      seen={heard(snapshot)}
      now={NOW}
      route={parseRoute("#/log")}
      commands={COMMANDS}
      again={() => undefined}
    />,
  );
  expect(textOf(root.querySelector(".ask-line")!)).toBe("For you to do: Open the regulator fully.");
});

test("a room opens at its top, and what was refused in the last one is gone", () => {
  const over: Over = { kind: "refused", title: "Why not start?", reasons: ["Locked."] };
  const close = vi.fn();
  const commands: Commands = { ...COMMANDS, show: close, over };
  const root = show(screenOf("standby", "#/now", COMMANDS));
  again(root, screenOf("standby", "#/now", commands));
  expect(close).not.toHaveBeenCalled();
  root.querySelector("main")!.scrollTop = 300;
  again(root, screenOf("standby", "#/log", commands));
  expect(close).toHaveBeenCalledWith(null);
  expect(root.querySelector("main")!.scrollTop).toBe(0);
});

test("an alarm that comes takes away the sheet that lies over it, and the good news before it", () => {
  const close = vi.fn();
  const tell = vi.fn();
  const commands: Commands = { ...COMMANDS, show: close, tell, over: { kind: "start" } };
  const root = show(screenOf("standby", "#/now", commands));
  close.mockClear();
  tell.mockClear();
  again(root, screenOf("tripped", "#/now", commands));
  expect(close).toHaveBeenCalledWith(null);
  expect(tell).toHaveBeenCalledWith("Nothing was started.");
});

test("a flush is held for like a start, and says what it takes; a bare press moves nothing", () => {
  const perform = vi.fn();
  const opened = vi.fn();
  const root = show(screenOf("standby", "#/now", { ...COMMANDS, perform, show: opened }));
  press(button(root.querySelector(".actions")!, "Flush"));
  expect(perform).not.toHaveBeenCalled();
  expect(opened).toHaveBeenLastCalledWith({ kind: "flush" });
  again(root, screenOf("standby", "#/now", { ...COMMANDS, perform, over: { kind: "flush" } }));
  expect(textOf(root.querySelector("[role=dialog]")!)).toContain("of fresh water from the tank");
  const hold = button(root, "Hold for one second to flush");
  press(hold);
  expect(perform).not.toHaveBeenCalled();
  press(hold);
  expect(perform).toHaveBeenCalledWith("flush");
});

test("that a stop was lost is taken back once the plant is heard again, and not before", () => {
  const heardAgain = vi.fn();
  const screen = (age_s: number) => (
    <Screen
      seen={heard(FIXTURES.get("producing")!, age_s)}
      now={NOW}
      route={parseRoute("#/now")}
      commands={{ ...COMMANDS, heardAgain }}
      again={() => undefined}
    />
  );
  const root = show(screen(60));
  expect(heardAgain).not.toHaveBeenCalled();
  again(root, screen(0));
  expect(heardAgain).toHaveBeenCalledTimes(1);
  again(root, screen(0));
  expect(heardAgain).toHaveBeenCalledTimes(1);
});

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
