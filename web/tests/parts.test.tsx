import { act } from "preact/test-utils";
import { afterEach, beforeAll, beforeEach, expect, test, vi } from "vitest";
import { Hold, swallowRelease } from "../src/dialogs/Hold";
import { PinDialog } from "../src/dialogs/PinDialog";
import { StartSheet } from "../src/dialogs/StartSheet";
import { Plan } from "../src/rooms/Plan";
import { fetchParts } from "../src/parts";
import { Screen, startOver, type Commands } from "../src/app";
import { ActionBar } from "../src/frame/ActionBar";
import type { Arguments, Schemas, Snapshot } from "../src/api";
import { AlarmStrip } from "../src/frame/AlarmStrip";
import { Banners } from "../src/frame/Banners";
import { Sentence } from "../src/frame/Sentence";
import { Now } from "../src/now/Now";
import { Numbers } from "../src/now/Numbers";
import { spanOfRun } from "../src/now/RunTrend";
import { Stream, streamWords } from "../src/now/Stream";
import { parseRoute } from "../src/router";
import { view } from "../src/age";
import { again, button, fixture, heard, NOW, pageOf, press, show, textOf } from "./show";

beforeAll(fetchParts);

// jsdom has no pointer events; without these properties their names would not be recognised.
for (const name of ["onpointerdown", "onpointerup", "onpointerleave", "onpointercancel"]) {
  Object.defineProperty(HTMLElement.prototype, name, { value: null, writable: true, configurable: true });
}

beforeEach(() => vi.useFakeTimers());
afterEach(() => {
  vi.useRealTimers();
  vi.unstubAllGlobals();
});

function pointer(element: HTMLElement, type: string): void {
  act(() => void element.dispatchEvent(new Event(type, { bubbles: true })));
}

function key(element: HTMLElement, type: "keydown" | "keyup", name: string, repeat = false): void {
  act(
    () =>
      void element.dispatchEvent(
        new KeyboardEvent(type, { key: name, repeat, bubbles: true, cancelable: true }),
      ),
  );
}

function wait(ms: number): void {
  act(() => void vi.advanceTimersByTime(ms));
}

function holding(disabled = false) {
  const held = vi.fn();
  const root = show(<Hold label="Hold" disabled={disabled} onHeld={held} />);
  return { held, node: root.querySelector("button")! };
}

test("a touch is not a hold; a second is", () => {
  const { held, node } = holding();
  pointer(node, "pointerdown");
  wait(900);
  pointer(node, "pointerup");
  press(node);
  wait(2000);
  expect(held).not.toHaveBeenCalled();
  pointer(node, "pointerdown");
  wait(1000);
  expect(held).toHaveBeenCalledTimes(1);
});

test("a finger that slides off lets go", () => {
  const { held, node } = holding();
  pointer(node, "pointerdown");
  pointer(node, "pointerleave");
  wait(2000);
  expect(held).not.toHaveBeenCalled();
});

test("Space may be held as well, and its repetition does not start the second anew", () => {
  const { held, node } = holding();
  key(node, "keydown", " ");
  wait(600);
  key(node, "keydown", " ", true);
  wait(400);
  expect(held).toHaveBeenCalledTimes(1);
});

test("who can only click, clicks twice", () => {
  const { held, node } = holding();
  press(node);
  expect(node.textContent).toContain("Press once more");
  wait(6000);
  press(node);
  expect(held).not.toHaveBeenCalled();
  press(node);
  expect(held).toHaveBeenCalledTimes(1);
});

test("lifting the finger after a hold presses nothing beneath, and a new press is never swallowed", () => {
  const beneath = vi.fn();
  document.body.insertAdjacentHTML("beforeend", "<button>beneath</button>");
  const under = document.body.lastElementChild as HTMLElement;
  under.addEventListener("click", beneath);
  const lift = () =>
    under.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true, detail: 1 }));
  swallowRelease();
  lift();
  expect(beneath).not.toHaveBeenCalled();
  lift();
  expect(beneath).toHaveBeenCalledTimes(1);
  swallowRelease();
  under.dispatchEvent(new Event("pointerdown", { bubbles: true }));
  lift();
  expect(beneath).toHaveBeenCalledTimes(2);
  under.remove();
});

test("a disabled hold never acts", () => {
  const { held, node } = holding(true);
  pointer(node, "pointerdown");
  wait(2000);
  expect(held).not.toHaveBeenCalled();
});

const OFFER: Schemas["PublicOffer"] = {
  need: { litres: null, minutes: null, until_s: null },
  possible: true,
  reasons: [],
  wanted_l: 130,
  litres: 58.3,
  seconds: 3565,
  before_s: 290,
  energy_wh: 1386.4,
  flush_l: 12,
  ended_by: "motor",
  rest_s: 900,
  ends: "2026-05-14T14:00:00.000Z",
  says: [
    "Puts about 58 L of 130 L into the tank. The motor's rated run ends it first; then the motor rests 15 min.",
    "Then a flush takes 12 L of fresh water and, foreseen at the least flow for it, about 6 min.",
  ],
};

function answering(said: unknown, status = 200): void {
  vi.stubGlobal("fetch", () => Promise.resolve(new Response(JSON.stringify(said), { status })));
}

async function startSheet(snapshot: Snapshot, onStart: (args: Arguments) => void = () => undefined) {
  const root = show(<StartSheet onStart={onStart} onClose={() => undefined} />, pageOf(snapshot));
  await act(async () => void (await vi.advanceTimersByTimeAsync(10)));
  return root;
}

test("the start sheet starts only after every question is ticked and the button held", async () => {
  answering(OFFER);
  const start = vi.fn();
  const root = await startSheet(fixture("standby"), start);
  expect(textOf(root)).toContain("about 1390 Wh");
  expect(textOf(root)).toContain("12 L of fresh water");
  expect(textOf(root)).toContain("ends it first; then the motor rests 15 min.");
  const hold = button(root, "Hold for one second");
  expect(hold.disabled).toBe(true);
  for (const box of Array.from(root.querySelectorAll<HTMLInputElement>("input[type=checkbox]"))) {
    act(() => {
      box.checked = true;
      box.dispatchEvent(new Event("change", { bubbles: true }));
    });
  }
  expect(hold.disabled).toBe(false);
  pointer(hold, "pointerdown");
  wait(1000);
  expect(start).toHaveBeenCalledWith({
    litres: 60,
    confirmed: ["seacocks_open", "strainer_clean", "sea_clean", "tank_chosen"],
  });
});

test("no usual amount is offered that the tank has no room for, nor does one stand there at first", async () => {
  const offered = async (wanted_l: number | null) => {
    answering({ ...OFFER, wanted_l });
    const root = await startSheet(fixture("standby"));
    const usual = Array.from(root.querySelectorAll<HTMLElement>(".quick button")).map(textOf);
    return [root.querySelector<HTMLInputElement>("input[inputmode=decimal]")!.value, ...usual];
  };
  expect(await offered(130)).toEqual(["60", "20 L", "40 L", "60 L", "100 L"]);
  expect(await offered(50)).toEqual(["40", "20 L", "40 L"]);
  expect(await offered(7.8)).toEqual(["7"]);
  expect(await offered(null)).toEqual(["60", "20 L", "40 L", "60 L", "100 L"]);
});

test("a server that asks nothing is believed; one that is silent about it gets the usual questions", async () => {
  answering(OFFER);
  const asksNothing = await startSheet({ ...fixture("standby"), questions: [] });
  expect(asksNothing.querySelectorAll("input[type=checkbox]")).toHaveLength(0);
  expect(button(asksNothing, "Hold for one second").disabled).toBe(false);
  const { questions: _, ...silent } = fixture("standby");
  expect((await startSheet(silent as Snapshot)).querySelectorAll("input[type=checkbox]")).toHaveLength(4);
});

test("a start that a plan proposes begins with its litres, in the units aboard, and is held like any other", async () => {
  answering(OFFER);
  const amount = (units: Snapshot["units"]) => {
    const root = show(
      <StartSheet litres={57.8} onStart={() => undefined} onClose={() => undefined} />,
      pageOf({ ...fixture("standby"), units }),
    );
    return root.querySelector<HTMLInputElement>("input[inputmode=decimal]")!.value;
  };
  expect(amount(fixture("standby").units)).toBe("58");
  expect(amount(fixture("american").units)).toBe("15");
});

test("taking a run over opens the sheet where a start would be taken, and says why where it would not", () => {
  const opened = (name: string, age_s = 0) => startOver(view(heard(fixture(name), age_s), NOW), null, 57.8);
  expect(opened("standby")).toEqual({ kind: "start", litres: 57.8 });
  const { refused } = fixture("standby_flush_owed");
  expect(opened("standby_flush_owed")).toMatchObject({ kind: "refused", reasons: refused["start"] });
  for (const [name, age_s] of [
    ["producing", 0],
    ["tripped", 0],
    ["standby", 60],
  ] as const) {
    expect(opened(name, age_s)).toMatchObject({ kind: "refused" });
  }
});

test("what is still to be ticked is counted beside the button, and one press goes to the first of it", async () => {
  answering(OFFER);
  HTMLElement.prototype.scrollIntoView = vi.fn();
  const root = await startSheet(fixture("standby"));
  const [first, second] = Array.from(root.querySelectorAll<HTMLInputElement>("input[type=checkbox]"));
  press(button(root, "Still to be seen and ticked: 4"));
  expect(document.activeElement).toBe(first);
  press(first!);
  press(button(root, "Still to be seen and ticked: 3"));
  expect(document.activeElement).toBe(second);
});

test("what would be refused is said with its reason and cannot be started", async () => {
  answering({ ...OFFER, possible: false, reasons: ["The tank has not that much room."] });
  const root = await startSheet({ ...fixture("standby"), questions: [] });
  expect(textOf(root)).toContain("The tank has not that much room.");
  expect(textOf(root)).not.toContain("Wh");
  expect(button(root, "Hold for one second").disabled).toBe(true);
});

test("the plan shows what the server offers, or the reason why nothing can be had, and no figure of its own", async () => {
  const missing = ["What the battery holds is not known."];
  const foreseen = { forecast: null, forbidden: [], sun_wh_day: 0, engine_w: 0, against: null };
  const none = {
    ...foreseen,
    changed: null,
    drawn: null,
    problems: [],
    reasons: [],
    rests_on: [],
    what_ifs: [],
  };
  const ahead = { ...none, missing, says: "", runs: null };
  const plan = { offers: [OFFER], reasons: [], rests_on: null, says: "It is foreseen.", ahead };
  answering(plan);
  const shown = show(<Plan />, pageOf(fixture("standby")));
  await act(async () => void (await vi.advanceTimersByTimeAsync(10)));
  expect(textOf(shown)).toContain("one run: 58 L of 130 L");
  expect(textOf(shown)).toContain(OFFER.says[0]);
  expect(textOf(shown)).toContain(missing[0]);
  answering({
    ...plan,
    offers: [],
    reasons: ["The pump motor has to rest for 12 min more, until 14:35 UTC."],
  });
  const resting = show(<Plan />, pageOf(fixture("standby")));
  await act(async () => void (await vi.advanceTimersByTimeAsync(10)));
  expect(textOf(resting)).toContain("until 14:35 UTC");
  expect(resting.querySelector("table")).toBeNull();
});

test("a wrong PIN is said, emptied and may be tried again; the right one goes on with the name", async () => {
  const onPin = vi.fn((pin: string) => Promise.resolve(pin === "123456" ? null : "Wrong."));
  const root = show(<PinDialog why={null} asksName onPin={onPin} onClose={() => undefined} />);
  const name = root.querySelector<HTMLInputElement>("input[type=text]")!;
  const field = root.querySelector<HTMLInputElement>("input[type=password]")!;
  const submit = (pin: string) => {
    field.value = pin;
    return act(async () => {
      root.querySelector("form")!.dispatchEvent(new Event("submit", { bubbles: true, cancelable: true }));
      await vi.advanceTimersByTimeAsync(1);
    });
  };
  act(() => {
    name.value = " Ilda ";
    name.dispatchEvent(new Event("input", { bubbles: true }));
  });
  await submit("111111");
  expect(root.querySelector("[role=alert]")?.textContent).toBe("Wrong.");
  expect(field.value).toBe("");
  await submit("123456");
  expect(onPin).toHaveBeenLastCalledWith("123456", "Ilda");
  expect(root.querySelector("[role=alert]")?.textContent).toBe("");
});

test("what lies behind a sheet is out of reach of every key, the bar with Stop is not", () => {
  const over: Commands = {
    over: { kind: "start" },
    told: null,
    tell: () => undefined,
    heardAgain: () => undefined,
    show: () => undefined,
    perform: () => undefined,
    performWithPin: () => Promise.resolve(null),
  };
  const screen = (commands: Commands) =>
    show(
      <Screen
        seen={heard(fixture("standby"))}
        now={NOW}
        route={parseRoute("#/now")}
        commands={commands}
        again={() => undefined}
      />,
    );
  const behind = (root: HTMLElement) =>
    Array.from(root.querySelectorAll("[inert]")).map((each) => each.tagName);
  const root = screen(over);
  expect(behind(root)).toEqual(["HEADER", "MAIN"]);
  const sheet = root.querySelector("[role=dialog]")!;
  const stop = root.querySelector(".stop")!;
  expect(sheet.compareDocumentPosition(stop)).toBe(Node.DOCUMENT_POSITION_FOLLOWING);
  expect(behind(screen({ ...over, over: null }))).toEqual([]);
});

test("Escape closes a sheet", () => {
  const close = vi.fn();
  const root = show(
    <PinDialog why={null} asksName={false} onPin={() => Promise.resolve(null)} onClose={close} />,
  );
  key(root.querySelector<HTMLElement>("[role=dialog]")!, "keydown", "Escape");
  expect(close).toHaveBeenCalledTimes(1);
});

test("the first alarm says what to do, each further one is a line that opens, and what can wait is counted", () => {
  const perform = vi.fn();
  const root = show(<AlarmStrip />, pageOf(fixture("many_alarms"), 0, { perform }));
  const alarms = () => Array.from(root.querySelectorAll(".alarm"));
  expect(alarms().map(textOf).slice(1)).toEqual([
    "!Urgent: Pressure does not go away",
    "!High priority: Sea water supply failedFirst cause",
    "!High priority: Control was cut off, gone, not acknowledged",
  ]);
  expect(textOf(alarms()[0]!)).toContain("Do: Mains near water: breaker now, before you touch anything.");
  press(alarms()[2]!.querySelector("button")!);
  const opened = textOf(alarms()[2]!);
  expect(opened).toContain("Do: ");
  expect(opened).toContain("If ignored: ");
  press(button(alarms()[2] as HTMLElement, "Acknowledge"));
  expect(perform).toHaveBeenLastCalledWith("acknowledge", { alarm: "feed_pressure_low_low" });
  press(button(root, "5 more alarms"));
  expect(alarms()).toHaveLength(9);
  press(button(root, "Acknowledge"));
  expect(perform).toHaveBeenCalledWith("acknowledge", { alarm: "bilge_wet" });
  press(button(root, "Silence"));
  expect(perform).toHaveBeenCalledWith("silence");
});

test("what happens if ignored is one press away", () => {
  const root = show(<AlarmStrip />, pageOf(fixture("tripped")));
  expect(textOf(root)).not.toContain("If ignored");
  press(button(root, "More"));
  expect(textOf(root)).toContain("If ignored: A dry pump is ruined within minutes.");
});

test("a new alarm reaches the live region, and old alarms are not commanded", () => {
  const root = show(<AlarmStrip />, pageOf(fixture("producing")));
  expect(root.querySelector("[role=alert]")?.textContent).toBe("");
  again(root, <AlarmStrip />, pageOf(fixture("low_feed_warning")));
  expect(root.querySelector("[role=alert]")?.textContent).toContain(
    "High priority alarm. Pump inlet pressure is 0.24 bar",
  );
  again(root, <AlarmStrip />, pageOf(fixture("low_feed_warning"), 60));
  expect(textOf(root)).toContain("Last known:");
  expect(() => button(root, "Acknowledge")).toThrow();
});

test("numbers beyond 3 s carry their age, beyond 10 s they are struck out", () => {
  const root = show(<Numbers />, pageOf(fixture("stale")));
  const tile = (name: string) =>
    Array.from(root.querySelectorAll(".tile")).find((each) => textOf(each).includes(name))!;
  expect(textOf(tile("Product flow"))).toContain("6 s old");
  expect(tile("Product flow").querySelector("s")).toBeNull();
  expect(tile("Membrane pressure").querySelector("s")?.textContent).toBe("55.0");
  expect(tile("Salt in product").querySelector("s")).toBeNull();
});

test("a lost link strikes every number out", () => {
  const root = show(<Numbers />, pageOf(fixture("producing"), 11));
  expect(root.querySelectorAll(".value s")).toHaveLength(6);
});

test("a faulty probe is named, not shown as a number", () => {
  const snapshot = fixture("producing");
  snapshot.readings!["vessel_pressure"] = { value: null, raw: 0, unit: "bar", quality: "open", age_s: 0.1 };
  expect(textOf(show(<Numbers />, pageOf(snapshot)))).toContain("no signal");
});

test("salt is said to be within, between or above its two limits, and what they do is said", () => {
  const said = (tds: number) => {
    const snapshot = fixture("producing");
    snapshot.derived["product_tds_mg_l"] = tds;
    return textOf(show(<Numbers />, pageOf(snapshot)));
  };
  expect(said(500)).toContain("within limittank opens at 500, closes at 600 mg/L");
  expect(said(501)).toContain("between the limits");
  expect(said(600)).toContain("between the limits");
  expect(said(601)).toContain("above limit");
  expect(said(312)).toContain("warning at 60, stops at 64 bar");
  expect(textOf(show(<Numbers />, pageOf(fixture("american"))))).toContain(
    "tank opens at 1019, closes at 1216 µS/cm",
  );
});

test("the salt of product that stands is not held against the limit, and nothing else is judged at rest", () => {
  const snapshot = fixture("standby");
  snapshot.derived["product_tds_mg_l"] = 151;
  const text = textOf(show(<Numbers />, pageOf(snapshot)));
  expect(text).toContain("151 mg/Lof water that stands");
  expect(text).not.toMatch(/within|above|between|not judged|no forecast|no run/);
});

test("each number opens its trend", () => {
  const root = show(<Numbers />, pageOf(fixture("producing")));
  const hrefs = Array.from(root.querySelectorAll("a")).map((link) => link.getAttribute("href"));
  expect(hrefs).toEqual([
    "#/trends?show=product_tds_mg_l",
    "#/trends?show=tank_fill",
    "#/trends?show=battery_voltage",
    "#/log",
    "#/trends?show=product_flow",
    "#/trends?show=vessel_pressure",
  ]);
});

test("a lost link is put in words with what to do, and the last sentence is marked as past", () => {
  const lost = textOf(show(<Sentence />, pageOf(fixture("producing"), 180)));
  expect(lost).toContain("No news from the boat's computer for 3 min.");
  expect(lost).toContain("press the stop button at the plant");
  expect(lost).toContain("Last known, 3 min ago: Making water into the tank: 41 L of 60 L");
  const control = textOf(show(<Sentence />, pageOf(fixture("lost"))));
  expect(control).toContain("Nothing heard from the control process for 2 min");
  expect(control).toContain("Last known, 2 min ago:");
});

test("a control never heard is told in the server's words, beside what is wrong with the settings", () => {
  const text = textOf(show(<Sentence />, pageOf(fixture("config_wrong"))));
  expect(text).toMatch(/^The control process has not been heard yet/);
  expect(textOf(show(<Banners />, pageOf(fixture("config_wrong"))))).toContain("did you mean port?");
});

test("what only a person can do stands under the sentence, or in its place where it says the same", () => {
  const asked = fixture("hand_run");
  const apart = show(<Sentence />, pageOf(asked));
  expect(apart.querySelectorAll(".said, .ask")).toHaveLength(2);
  expect(textOf(apart)).toContain(
    "For you to do: Switch the high-pressure pump off now, at its own switch. now 55.1 bar",
  );
  const same = show(<Sentence />, pageOf(fixture("rearm")));
  expect(same.querySelectorAll(".said, .ask")).toHaveLength(2);
  expect(textOf(same)).toBe(
    "At rest, ready to start. The safety stop was reset." +
      "For you to do: Re-arm the relays at the plant by hand if they have dropped out; until then nothing runs.",
  );
});

function tickAll(root: HTMLElement) {
  for (const box of root.querySelectorAll<HTMLInputElement>(".end-test input")) act(() => box.click());
}

test("a purge that only waits for its end test is confirmed test by test", () => {
  const perform = vi.fn();
  const seen = fixture("long_texts");
  const root = show(<Sentence />, pageOf(seen, 0, { perform }));
  const tests = seen.owed!.purge!.tests!;
  press(button(root, "The purge is done"));
  expect(perform).not.toHaveBeenCalled();
  tickAll(root);
  press(button(root, "The purge is done"));
  expect(perform).toHaveBeenCalledWith("log", {
    kind: "purge_confirmed",
    confirmed: tests.map(({ id }) => id),
  });
});

test("a purge cannot be confirmed while something speaks against it, and that is said", () => {
  const seen = fixture("long_texts");
  const purge = { ...seen.owed!.purge!, not_now: ["The end test is taken from product that flows."] };
  const root = show(<Sentence />, pageOf({ ...seen, owed: { ...seen.owed!, purge } }));
  tickAll(root);
  expect(button(root, "The purge is done").disabled).toBe(true);
  expect(textOf(root)).toContain("Not now: The end test is taken from product that flows.");
});

test("an alarm from before the clock was set says how long ago", () => {
  const snapshot = fixture("tripped");
  snapshot.alarms![0] = { ...snapshot.alarms![0]!, since: null, since_s: 720 };
  expect(textOf(show(<AlarmStrip />, pageOf(snapshot)))).toContain("12 min ago");
});

test("a screen reader hears a new state once, not every litre", () => {
  const producing = fixture("producing");
  const root = show(<Sentence />, pageOf(producing));
  const status = () => root.querySelector("[role=status]")?.textContent;
  again(root, <Sentence />, pageOf({ ...producing, sentence: "Making water. 42 L." }));
  expect(status()).toBe("");
  again(root, <Sentence />, pageOf(fixture("diverting")));
  expect(status()).toContain("Product goes overboard: salt is 612 mg/L");
});

test("dashes move only where water is measured to move, and nowhere in the past", () => {
  const dashes = (name: string, age_s = 0) =>
    show(<Stream />, pageOf(fixture(name), age_s)).querySelectorAll(".pipe-dash").length;
  expect(dashes("standby")).toBe(0);
  expect(dashes("producing")).toBe(5);
  expect(dashes("producing", 30)).toBe(0);
});

test("the drawing can be heard", () => {
  const snapshot = fixture("producing");
  expect(streamWords(view(heard(snapshot), NOW), [])).toBe(
    "Sea water moves through the membrane. Product flows to the tank.",
  );
  const assumed = fixture("no_switches");
  expect(streamWords(view(heard(assumed), NOW), [])).toContain("as switched, not measured");
});

test("a refused action opens its reasons instead of being dead, and Stop stands last", () => {
  const acted = vi.fn();
  const stopped = vi.fn();
  const root = show(<ActionBar onAction={acted} onStop={stopped} />, pageOf(fixture("standby_flush_owed")));
  press(button(root, "Start…"));
  expect(acted.mock.calls[0]?.[0].refused).toHaveLength(3);
  const buttons = root.querySelectorAll("button");
  press(buttons[buttons.length - 1]!);
  expect(stopped).toHaveBeenCalledTimes(1);
});

test("an old tank level looks as old as it is", () => {
  const level = (age_s: number) =>
    Array.from(show(<Numbers />, pageOf(fixture("producing"), age_s)).querySelectorAll(".tile"))
      .find((tile) => textOf(tile).startsWith("In the tank"))
      ?.querySelector(".value")
      ?.getAttribute("class");
  expect(level(0)).toBe("value fresh");
  expect(level(5)).toBe("value old");
  expect(level(60)).toBe("value dead");
  const drawn = (age_s: number) =>
    show(<Stream />, pageOf(fixture("producing"), age_s)).querySelectorAll(".tank .level").length;
  expect([drawn(0), drawn(60)]).toEqual([1, 0]);
});

test("where flow is assumed it is drawn otherwise, and the two are explained once", () => {
  const metered = show(<Stream />, pageOf(fixture("producing")));
  expect(metered.querySelectorAll(".pipe-dots, .legend")).toHaveLength(0);
  const snapshot = fixture("producing");
  delete snapshot.readings["brine_flow"];
  const assumed = show(<Stream />, pageOf(snapshot));
  expect(assumed.querySelectorAll(".pipe .pipe-dots")).toHaveLength(1);
  expect(assumed.querySelectorAll(".pipe.brine .pipe-dots")).toHaveLength(1);
  expect(textOf(assumed.querySelector(".legend")!)).toBe("measured assumed, no meter there");
});

test("the first screen says the litres in the tank, the battery where it is measured, and what the run still takes", () => {
  const words = (name: string, change: (snapshot: Snapshot) => void = () => undefined) => {
    const snapshot = fixture(name);
    change(snapshot);
    return textOf(show(<Numbers />, pageOf(snapshot)));
  };
  const battery = (channel: string, value: number | null) => (snapshot: Snapshot) => {
    snapshot.readings[channel] = {
      value,
      raw: 1,
      unit: "",
      quality: value === null ? "open" : "good",
      age_s: 0.1,
    };
  };
  expect(words("producing")).toContain("216 L");
  expect(words("producing")).toContain("12.9 V");
  expect(words("producing")).toContain("this run takes about 460 Wh more");
  expect(words("standby")).not.toContain("run takes");
  expect(words("american")).toMatch(/\d gal/);
  expect(words("standby", battery("battery_charge_percent", 71))).toContain("71 %");
  const none = words("standby", battery("battery_voltage", null));
  expect(none).not.toContain("battery");
  const unsized = (snapshot: Snapshot) => void delete snapshot.limits!["tank_capacity_l"];
  expect(words("standby", unsized)).toContain("54 %");
});

test("what stands beside the drawing is fetched only where there is room for it", async () => {
  const asked = vi.fn(() => Promise.resolve(new Response("{}", { status: 503 })));
  vi.stubGlobal("fetch", asked);
  const addresses = async (wide: boolean) => {
    asked.mockClear();
    vi.stubGlobal("matchMedia", () => ({
      matches: wide,
      addEventListener: () => undefined,
      removeEventListener: () => undefined,
    }));
    const root = show(<Now />, pageOf(fixture("producing")));
    await act(async () => void (await vi.advanceTimersByTimeAsync(10)));
    const paths = asked.mock.calls.map((call) => String((call as unknown[])[0]));
    return { headings: Array.from(root.querySelectorAll("h2")).map(textOf), paths };
  };
  const phone = await addresses(false);
  expect(phone.headings).toEqual([]);
  expect(phone.paths.filter((path) => path.includes("/history"))).toEqual([]);
  const laptop = await addresses(true);
  expect(laptop.headings).toEqual(["This run so far", "What is due"]);
  expect(laptop.paths.filter((path) => path.includes("/history"))).toHaveLength(3);
});

test("the trend of a run spans the whole of it, in steps of five minutes", () => {
  expect(spanOfRun(null)).toBe(3600);
  expect(spanOfRun({ seconds: 0 })).toBe(600);
  expect(spanOfRun({ seconds: 2722 })).toBe(3000);
  expect(spanOfRun({ seconds: 3001 })).toBe(3300);
});
