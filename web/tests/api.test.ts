import { afterEach, expect, test, vi } from "vitest";
import { historyPath, openSession, read, sendCommand } from "../src/api";

const asked: [string, RequestInit][] = [];

function answering(status: number, said: unknown): void {
  asked.length = 0;
  vi.stubGlobal("fetch", (path: string, init: RequestInit) => {
    asked.push([path, init]);
    return Promise.resolve(new Response(JSON.stringify(said), { status }));
  });
}

afterEach(() => vi.unstubAllGlobals());

test("a command goes out flat, as JSON, with the header the server wants", async () => {
  answering(200, { accepted: true, reasons: [] });
  expect(await sendCommand("start", { litres: 60 })).toEqual({ kind: "accepted", told: [] });
  const [path, init] = asked[0]!;
  expect(path).toBe("/api/v1/commands");
  expect(init.method).toBe("POST");
  expect(init.headers).toMatchObject({ "X-Halocline": "1", "Content-Type": "application/json" });
  expect(JSON.parse(String(init.body))).toEqual({ command: "start", litres: 60 });
});

test("what report is told goes to its own place, with the same header and the same answers", async () => {
  answering(200, { accepted: true, reasons: [], told: ["Silty water: no run is planned until noon."] });
  expect(await sendCommand("forbid_water", { why: "silt", hours: 12 })).toEqual({
    kind: "accepted",
    told: ["Silty water: no run is planned until noon."],
  });
  await sendCommand("forget_forecast");
  expect(asked.map(([path, { method }]) => [path, method])).toEqual([
    ["/api/v1/plan/forbidden", "POST"],
    ["/api/v1/plan/forecast", "DELETE"],
  ]);
  const [, init] = asked[0]!;
  expect(init.headers).toMatchObject({ "X-Halocline": "1" });
  expect(JSON.parse(String(init.body))).toEqual({ why: "silt", hours: 12 });
});

test("a refusal carries every reason", async () => {
  answering(409, { accepted: false, reasons: ["The tank is full.", "The battery is low."] });
  expect(await sendCommand("start")).toEqual({
    kind: "refused",
    reasons: ["The tank is full.", "The battery is low."],
  });
});

test("401 asks for a session", async () => {
  answering(401, { accepted: false, reasons: ["Enter the PIN first."], ids: ["no_session"] });
  expect(await sendCommand("start")).toEqual({ kind: "pin", wants: "session", text: "Enter the PIN first." });
});

test.each(["pin_again", "pin_wrong", "pin_wait"])("%s asks for the PIN once more", async (id) => {
  answering(403, { accepted: false, reasons: ["Enter the PIN once more."], ids: [id] });
  expect(await sendCommand("reset")).toEqual({
    kind: "pin",
    wants: "again",
    text: "Enter the PIN once more.",
  });
});

test("a missing PIN is a refusal with its remedy, not a question for it", async () => {
  answering(403, { accepted: false, reasons: ["No PIN is set: halocline pin"], ids: ["no_pin"] });
  expect(await sendCommand("start")).toEqual({ kind: "refused", reasons: ["No PIN is set: halocline pin"] });
});

test("an answer that makes no sense is never taken for yes", async () => {
  answering(200, {});
  expect(await sendCommand("stop")).toEqual({
    kind: "failed",
    text: "The boat's computer answered with error 200.",
  });
  answering(500, "oops");
  expect((await sendCommand("stop")).kind).toBe("failed");
});

test("no answer says that it did not get through", async () => {
  vi.stubGlobal("fetch", () => Promise.reject(new TypeError("network")));
  expect(await sendCommand("stop")).toEqual({
    kind: "failed",
    text: "It did not get through: the boat's computer does not answer.",
  });
});

test("a wrong PIN gives the server's words, or our own", async () => {
  answering(401, { reasons: ["Wrong. Next try in 4 s."] });
  expect(await openSession("123456")).toBe("Wrong. Next try in 4 s.");
  answering(429, {});
  expect(await openSession("123456")).toBe("Too many tries. Wait a little.");
  answering(200, {});
  expect(await openSession("123456")).toBeNull();
});

test("reading throws with the status and the reason", async () => {
  answering(503, { reasons: ["The record is busy."] });
  await expect(read("/runs")).rejects.toMatchObject({ status: 503, said: "The record is busy." });
});

test("history asks for whole seconds around the range", () => {
  expect(historyPath("feed_pressure", 10.6, 20.2, 400)).toBe(
    "/history?channel=feed_pressure&from=10&to=21&points=400",
  );
});
