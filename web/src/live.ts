/** The one stream of the page: opens it, watches it, opens it again. */

import { STREAM_URL, type Snapshot } from "./api";
import { DEAD_S, elapsed_s, instant, type Seen } from "./age";

const WATCH_MS = 2000;
const LONGEST_WAIT_MS = 10_000;

export type Source = Pick<EventSource, "close" | "readyState" | "onmessage" | "onerror">;

export interface Surroundings {
  open: (url: string) => Source;
  /** Whether the server wants the PIN before it shows anything. */
  wantsPin: () => Promise<boolean>;
}

async function refusesReading(): Promise<boolean> {
  try {
    return (await fetch("/api/v1/now", { credentials: "same-origin" })).status === 401;
  } catch {
    return false;
  }
}

const BROWSER: Surroundings = { open: (url) => new EventSource(url), wantsPin: refusesReading };

function snapshotIn(text: string): Snapshot | null {
  try {
    const read = JSON.parse(text) as Partial<Snapshot> | null;
    return read !== null && typeof read === "object" && typeof read.link === "object"
      ? (read as Snapshot)
      : null;
  } catch {
    return null;
  }
}

const CLOSED = 2;

export interface Watching {
  /** Tries at once instead of at the next turn. */
  again: () => void;
  stop: () => void;
}

/** Watches the stream and tells all it learns. */
export function watch(tell: (seen: Seen) => void, around: Surroundings = BROWSER): Watching {
  let seen: Seen = { snapshot: null, heard: null, began: instant(), wantsPin: false };
  let source: Source | null = null;
  let opened = instant();
  let tries = 0;
  let nextTry_ms = 0;

  const learn = (change: Partial<Seen>) => {
    seen = { ...seen, ...change };
    tell(seen);
  };

  const close = () => {
    source?.close();
    source = null;
  };

  const open = () => {
    close();
    opened = instant();
    const fresh = around.open(STREAM_URL);
    source = fresh;
    fresh.onmessage = (event: MessageEvent) => {
      const snapshot = snapshotIn(String(event.data));
      if (snapshot === null) return;
      tries = 0;
      learn({ snapshot, heard: instant(), wantsPin: false });
    };
    fresh.onerror = () => {
      // While the browser tries again by itself the state is "connecting"; closed means it gave up.
      if (fresh.readyState === CLOSED && source === fresh) giveWay();
    };
  };

  const giveWay = () => {
    close();
    tries += 1;
    nextTry_ms = performance.now() + Math.min(LONGEST_WAIT_MS, 1000 * 2 ** (tries - 1));
    void around.wantsPin().then((wantsPin) => {
      if (wantsPin !== seen.wantsPin) learn({ wantsPin });
    });
  };

  // A frozen server keeps its connections open: silence, not an error, is how it shows.
  const attend = () => {
    if (document.visibilityState === "hidden" && source === null) return;
    if (source === null) {
      if (performance.now() >= nextTry_ms) open();
      return;
    }
    const silent_s = Math.min(elapsed_s(seen.heard ?? seen.began, instant()), elapsed_s(opened, instant()));
    if (silent_s > DEAD_S) giveWay();
  };

  const wake = () => {
    nextTry_ms = 0;
    attend();
  };
  const timer = setInterval(attend, WATCH_MS);
  addEventListener("pagehide", close);
  addEventListener("pageshow", wake);
  document.addEventListener("visibilitychange", wake);
  open();

  const stop = () => {
    clearInterval(timer);
    removeEventListener("pagehide", close);
    removeEventListener("pageshow", wake);
    document.removeEventListener("visibilitychange", wake);
    close();
  };
  return { again: wake, stop };
}
