import { expect, test } from "vitest";
import { Ageing } from "../src/rooms/Ageing";
import { fixture, pageOf, show, textOf } from "./show";

const SAID = {
  sentence: "The membrane is fouling.",
  figures: [
    {
      name: "Product flow",
      now: "-12.0 % (80 % sure of -13.0 % to -11.0 %)",
      end: "-15.0 % in 30 h (20 to 41)",
    },
    { name: "Salt passage", now: "not known yet, 4 of the 6 steady runs that are needed", end: "" },
  ],
  evidence: ["product flow on the reference day fell by 12.0 % (± 0.6)"],
  ask: "a bucket",
  answer: {},
};

test("the story, every figure with its interval and its end, the evidence and what would tell can be read", () => {
  const text = textOf(show(<Ageing membrane={SAID} note={null} />, pageOf(fixture("standby"))));
  for (const part of [
    SAID.sentence,
    SAID.evidence[0],
    "a bucket",
    ...SAID.figures.flatMap((f) => [f.name, f.now, f.end]),
  ])
    expect(text).toContain(part);
});

test("where nothing can be compared the reason stands there", () => {
  const page = pageOf(fixture("standby"));
  expect(textOf(show(<Ageing membrane={null} note="The settings allow no comparison." />, page))).toContain(
    "no comparison",
  );
});
