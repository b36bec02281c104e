import { act } from "preact/test-utils";
import { afterEach, expect, test, vi } from "vitest";
import { Found } from "../src/now/Found";
import { fixture, pageOf, show, textOf } from "./show";

const FOUND = { name: "fouling", text: "The membrane is fouling.", confidence: 0.93, aside: null };
const ASIDE = { ...FOUND, aside: { on: null, reason: "cleaning in March", who: null } };

function answering(finding: unknown): void {
  vi.stubGlobal("fetch", () =>
    Promise.resolve({ ok: true, status: 200, json: () => Promise.resolve({ finding }) }),
  );
}

async function shown(): Promise<HTMLElement> {
  const root = show(<Found />, pageOf(fixture("standby")));
  await act(() => new Promise((done) => setTimeout(done, 0)));
  return root;
}

afterEach(() => vi.unstubAllGlobals());

test("on the first page what is sure is told, with the way to Health", async () => {
  answering(FOUND);
  const root = await shown();
  expect(textOf(root)).toContain("The membrane is fouling.");
  expect(root.querySelector("a")?.getAttribute("href")).toBe("#/health");
});

test.each([null, ASIDE])("what is not sure, or put aside, takes no room there", async (finding) => {
  answering(finding);
  expect(textOf(await shown())).toBe("");
});
