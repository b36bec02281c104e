import { act } from "preact/test-utils";
import { afterEach, expect, test, vi } from "vitest";
import { cameFrom, EventList } from "../src/rooms/EventList";
import { button, press, show, textOf } from "./show";

afterEach(() => vi.unstubAllGlobals());

const EVENT = {
  boot: "b",
  seq: 7,
  key: "b-7",
  time: "2026-03-02T10:00:00Z",
  mono_s: 1,
  kind: "command",
  text: "Start: accepted.",
  who: "Ana",
  origin: "page",
};

async function settled(): Promise<void> {
  await act(() => new Promise((done) => setTimeout(done, 0)));
}

function serving(answers: Record<string, object>): string[] {
  const asked: string[] = [];
  vi.stubGlobal("fetch", (path: string) => {
    asked.push(path);
    const said = Object.entries(answers).find(([end]) => path.endsWith(end))?.[1];
    return Promise.resolve(
      new Response(JSON.stringify(said ?? {}), { status: said === undefined ? 404 : 200 }),
    );
  });
  return asked;
}

test("an order is signed with the name or the address it came from; what the plant did itself is not", () => {
  expect(cameFrom(EVENT)).toBe("Ana, page");
  expect(cameFrom({ who: "192.168.4.23", origin: "page" })).toBe("name not given, from 192.168.4.23, page");
  expect(cameFrom({ who: null, origin: "plant" })).toBe("Button at the plant");
  expect(cameFrom({ who: null, origin: null })).toBe("");
});

test("what happened is listed, and one may go back as far as the record does and come again to the newest", async () => {
  const older = { events: [{ ...EVENT, key: "b-3", text: "A run began, 60 L wanted." }], older: null };
  const asked = serving({ "/events": { events: [EVENT], older: "b-7" }, "/events?before=b-7": older });
  const list = show(<EventList />);
  await settled();
  expect(textOf(list)).toContain("Start: accepted.Ana, page");
  expect(button(list, "Newest").disabled).toBe(true);
  press(button(list, "Older"));
  await settled();
  expect(textOf(list)).toContain("A run began, 60 L wanted.");
  expect(textOf(list)).not.toContain("Start: accepted.");
  expect(button(list, "Older").disabled).toBe(true);
  press(button(list, "Newest"));
  await settled();
  expect(textOf(list)).toContain("Start: accepted.");
  expect(asked.map((path) => path.replace(/^.*\/events/, "/events"))).toEqual([
    "/events",
    "/events?before=b-7",
    "/events",
  ]);
});

test("an empty record and one that cannot be read say so", async () => {
  serving({ "/events": { events: [], older: null } });
  const empty = show(<EventList />);
  await settled();
  expect(textOf(empty)).toBe("Nothing is on record yet.");
  serving({});
  const failed = show(<EventList key="again" />);
  await settled();
  expect(textOf(failed)).toContain("does not keep this");
});
