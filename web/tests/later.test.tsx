import { act } from "preact/test-utils";
import { afterEach, beforeEach, expect, test, vi } from "vitest";
import { later, type Surroundings } from "../src/later";
import { button, press, show, textOf } from "./show";

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function Room({ of }: { of: string }) {
  return <p>The room of {of}</p>;
}

/** What a browser keeps until its window is closed. */
function keeping(): Storage {
  const kept = new Map<string, string>();
  return {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
    removeItem: (key: string) => void kept.delete(key),
  } as Storage;
}

/** A window whose server answers, unless said otherwise. */
function around(change: Partial<Surroundings> = {}) {
  return { answers: () => Promise.resolve(true), reload: vi.fn(), kept: keeping(), ...change };
}

const GONE = () => Promise.reject<typeof Room>(new Error("404"));
const settled = () => act(async () => void (await vi.advanceTimersByTimeAsync(1)));

test("a room that is still to come is told calmly, then shown; what was fetched before is there at once", async () => {
  const Later = later("Trends", () => Promise.resolve(Room), undefined, around());
  const root = show(<Later of="trends" />);
  expect(textOf(root)).toBe("Fetching Trends…");
  await settled();
  expect(textOf(root)).toBe("The room of trends");
  expect(textOf(show(<Later of="once more" />))).toBe("The room of once more");
});

test("a page of an older build, whose files are gone, loads itself anew once and no more", async () => {
  const world = around();
  show(
    <>
      {[later("Log", GONE, undefined, world)].map((Later) => (
        <Later key="log" of="log" />
      ))}
    </>,
  );
  await settled();
  expect(world.reload).toHaveBeenCalledTimes(1);
  // The same window after that: a part that is still missing is told, not chased.
  const Again = later("Log", GONE, undefined, world);
  const root = show(<Again of="log" />);
  await settled();
  expect(world.reload).toHaveBeenCalledTimes(1);
  expect(textOf(root)).toContain("Log could not be fetched");
  expect(textOf(root)).toContain("Stop works as before");
});

test("a part that came at last may load the page anew another time", async () => {
  const world = around();
  const Gone = later("Log", GONE, undefined, world);
  show(<Gone of="log" />);
  await settled();
  await later("Log", () => Promise.resolve(Room), undefined, world).fetch();
  const GoneAgain = later("Log", GONE, undefined, world);
  show(<GoneAgain of="log" />);
  await settled();
  expect(world.reload).toHaveBeenCalledTimes(2);
});

test("while nothing answers the page stays as it is, and loads anew when a press finds an answer", async () => {
  let there = false;
  const world = around({ answers: () => Promise.resolve(there) });
  const Later = later("Plan", GONE, undefined, world);
  const root = show(<Later of="plan" />);
  await settled();
  expect(world.reload).not.toHaveBeenCalled();
  press(button(root, "Try again"));
  await settled();
  expect(textOf(root)).toContain("Still no answer");
  expect(world.reload).not.toHaveBeenCalled();
  there = true;
  press(button(root, "Try again"));
  await settled();
  expect(world.reload).toHaveBeenCalledTimes(1);
});

test("where nothing can be remembered, only a press loads the page anew", async () => {
  const world = around({ kept: null });
  const Later = later("Plan", GONE, undefined, world);
  const root = show(<Later of="plan" />);
  await settled();
  expect(world.reload).not.toHaveBeenCalled();
  expect(textOf(root)).toContain("Try again");
});

test("a server that says nothing at all is not waited for in silence, and what comes late is shown", async () => {
  let come: (room: typeof Room) => void = () => undefined;
  const slow = () => new Promise<typeof Room>((resolve) => (come = resolve));
  const Later = later("Health", slow, undefined, around());
  const root = show(<Later of="health" />);
  await act(async () => void (await vi.advanceTimersByTimeAsync(10_001)));
  expect(textOf(root)).toContain("Health could not be fetched");
  come(Room);
  await settled();
  expect(textOf(root)).toBe("The room of health");
});
