/** Every state of every part, side by side: for looking at, for pictures, for axe-core. Not part of the page. */

import { render } from "preact";
import type { Snapshot } from "../src/api";
import type { Instant, Seen } from "../src/age";
import { Screen, type Commands, type Over } from "../src/app";
import { startPalette } from "../src/palette";
import { parseRoute } from "../src/router";
import "../src/styles/tokens.css";
import "../src/styles/base.css";
import "../src/styles/frame.css";
import "../src/styles/now.css";
import "../src/styles/dialogs.css";
import "../src/styles/rooms.css";
import "./gallery.css";

const found = import.meta.glob<Snapshot>("../fixtures/*.json", { eager: true, import: "default" });
const fixtures = new Map(
  Object.entries(found).map(([path, made]) => [path.replace(/^.*\/|\.json$/g, ""), made]),
);

const NOW: Instant = { steady_ms: 1_000_000, wall_ms: 1_000_000 };

function ago(seconds: number): Instant {
  return { steady_ms: NOW.steady_ms - seconds * 1000, wall_ms: NOW.wall_ms - seconds * 1000 };
}

function heard(name: string, age_s = 0): Seen {
  return { snapshot: fixtures.get(name) ?? null, heard: ago(age_s), began: ago(600), wantsPin: false };
}

const SILENT: Seen = { snapshot: null, heard: null, began: ago(1), wantsPin: false };

function still(over: Over | null, told: Commands["told"] = null): Commands {
  return {
    over,
    told,
    show: () => undefined,
    perform: () => undefined,
    performWithPin: () => Promise.resolve(null),
  };
}

interface Sight {
  name: string;
  seen: Seen;
  over?: Over;
  told?: Commands["told"];
}

const REASONS = fixtures.get("standby_flush_owed")?.refused?.["start"] ?? [];

const SIGHTS: Sight[] = [
  ...[...fixtures.keys()].map((name) => ({ name, seen: heard(name) })),
  { name: "late by 5 s", seen: heard("producing", 5) },
  { name: "server lost for 3 min", seen: heard("producing", 180) },
  { name: "lost with alarms", seen: heard("many_alarms", 40) },
  { name: "seeking", seen: SILENT },
  { name: "unreachable", seen: { ...SILENT, began: ago(60) } },
  { name: "start sheet", seen: heard("standby"), over: { kind: "start" } },
  {
    name: "start refused",
    seen: heard("standby"),
    over: { kind: "refused", title: "Start was refused", reasons: REASONS },
  },
  {
    name: "PIN",
    seen: heard("standby"),
    over: { kind: "pin", wants: "session", why: null, command: "start", args: {} },
  },
  { name: "command taken", seen: heard("standby"), told: { text: "Flush: taken.", bad: false } },
  {
    name: "stop did not get through",
    seen: heard("producing", 30),
    told: { text: "Stop did not get through. Press the stop button at the plant.", bad: true },
  },
];

function One({ seen, over, told }: Sight) {
  return (
    <Screen
      seen={seen}
      now={NOW}
      route={parseRoute("#/now")}
      commands={still(over ?? null, told)}
      again={() => undefined}
    />
  );
}

/** Each sight in a frame of its own: the style follows the width of the window it stands in. */
function Gallery() {
  return (
    <main class="gallery">
      <h1>Every state</h1>
      {SIGHTS.map(({ name }) => (
        <section key={name} class="sight" data-name={name}>
          <h2>{name}</h2>
          <iframe title={name} src={`?sight=${encodeURIComponent(name)}`} width="360" height="740" />
        </section>
      ))}
    </main>
  );
}

startPalette();
const asked = new URLSearchParams(location.search).get("sight");
const sight = SIGHTS.find(({ name }) => name === asked);
const root = document.getElementById("page");
if (root !== null) {
  root.className = sight === undefined ? "all" : "one";
  render(sight === undefined ? <Gallery /> : <One {...sight} />, root);
}
