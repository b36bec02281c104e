import { afterEach, beforeEach, expect, test, vi } from "vitest";
import type { Seen } from "../src/age";
import { watch, type Source, type Watching } from "../src/live";
import { fixture } from "./show";

class FakeSource implements Source {
  readyState = 1;
  onmessage: Source["onmessage"] = null;
  onerror: Source["onerror"] = null;
  closed = false;
  close() {
    this.closed = true;
    this.readyState = 2;
  }
  say(data: string) {
    this.onmessage?.call(this as unknown as EventSource, new MessageEvent("message", { data }));
  }
  giveUp() {
    this.readyState = 2;
    this.onerror?.call(this as unknown as EventSource, new Event("error"));
  }
}

let opened: FakeSource[];
let told: Seen[];
let watching: Watching;
let refused = false;
const SNAPSHOT = JSON.stringify(fixture("producing"));

function last<T>(list: T[]): T {
  return list[list.length - 1]!;
}

beforeEach(() => {
  vi.useFakeTimers();
  opened = [];
  told = [];
  refused = false;
  watching = watch((seen) => told.push(seen), {
    open: () => {
      opened.push(new FakeSource());
      return last(opened);
    },
    wantsPin: () => Promise.resolve(refused),
  });
});

afterEach(() => {
  watching.stop();
  vi.useRealTimers();
});

test("one stream is opened, and what it says is told", () => {
  expect(opened).toHaveLength(1);
  last(opened).say(SNAPSHOT);
  expect(last(told).snapshot?.boat).toBe("Quelimbra");
});

test("nonsense on the stream changes nothing", () => {
  last(opened).say("not json");
  last(opened).say("null");
  last(opened).say('{"boat": 3}');
  expect(told).toEqual([]);
});

test("a server that falls silent without closing is given up and tried again", async () => {
  last(opened).say(SNAPSHOT);
  await vi.advanceTimersByTimeAsync(9_000);
  expect(opened).toHaveLength(1);
  await vi.advanceTimersByTimeAsync(6_000);
  expect(opened[0]!.closed).toBe(true);
  expect(opened).toHaveLength(2);
});

test("a stream that gave up is opened anew, ever more patiently, never more than one at a time", async () => {
  for (let round = 0; round < 6; round += 1) {
    last(opened).giveUp();
    await vi.advanceTimersByTimeAsync(12_000);
    expect(opened).toHaveLength(round + 2);
    expect(opened.filter((source) => !source.closed)).toHaveLength(1);
  }
});

test("a stream that is refused for want of the PIN says so", async () => {
  refused = true;
  last(opened).giveUp();
  await vi.advanceTimersByTimeAsync(10);
  expect(last(told).wantsPin).toBe(true);
});

test("leaving the page closes the stream, coming back opens it", () => {
  dispatchEvent(new Event("pagehide"));
  expect(opened[0]!.closed).toBe(true);
  dispatchEvent(new Event("pageshow"));
  expect(opened).toHaveLength(2);
});

test("after stop nothing is opened any more", async () => {
  watching.stop();
  await vi.advanceTimersByTimeAsync(60_000);
  dispatchEvent(new Event("pageshow"));
  expect(opened).toHaveLength(1);
  expect(opened[0]!.closed).toBe(true);
});
