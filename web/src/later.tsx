/** Parts of the page that are fetched when they are first opened, or when the page has nothing else to do. */

import type { ComponentChildren, ComponentType, VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import { DEAD_S } from "./age";
import { Fetching } from "./frame/Fetching";

export interface Surroundings {
  /** Whether the server answers, so that loading the page anew would succeed. */
  answers: () => Promise<boolean>;
  reload: () => void;
  kept: Pick<Storage, "getItem" | "setItem" | "removeItem"> | null;
}

function storage(): Storage | null {
  try {
    return sessionStorage;
  } catch {
    return null;
  }
}

async function serverAnswers(): Promise<boolean> {
  const controller = new AbortController();
  // As long as the page waits for any news before it calls the server lost.
  const timer = setTimeout(() => controller.abort(), DEAD_S * 1000);
  try {
    return (await fetch("/", { cache: "no-store", signal: controller.signal })).ok;
  } catch {
    return false;
  } finally {
    clearTimeout(timer);
  }
}

const BROWSER: Surroundings = {
  answers: serverAnswers,
  reload: () => location.reload(),
  kept: storage(),
};

const mark = (name: string) => `halocline.anew.${name}`;

/**
 * Loads the page anew for a part that could not be fetched, once: a page of an older build asks for files that are
 * gone, and the server has their successors. Where nothing can be remembered a person has to press, since "once" could
 * not be kept. True when the page is being loaded anew.
 */
export async function anewOnce(name: string, around: Surroundings = BROWSER): Promise<boolean> {
  if (around.kept === null || around.kept.getItem(mark(name)) !== null) return false;
  if (!(await around.answers())) return false;
  around.kept.setItem(mark(name), "1");
  around.reload();
  return true;
}

/** A press on "Try again": false when there is still no answer. Browsers keep a failed script failed until a reload. */
export async function tryAgain(around: Surroundings = BROWSER): Promise<boolean> {
  if (!(await around.answers())) return false;
  around.reload();
  return true;
}

export interface Part<P> {
  (props: P): VNode;
  /** Fetches it without showing it. Rejects when that fails. */
  fetch: () => Promise<void>;
}

function Paper({ children }: { children: ComponentChildren }) {
  return <div class="paper">{children}</div>;
}

/** A part of that name, which stands in for it until it is there. `Around` stands around the wait. */
export function later<P extends object>(
  name: string,
  load: () => Promise<ComponentType<P>>,
  Around: ComponentType<P & { children: ComponentChildren }> = Paper,
  around: Surroundings = BROWSER,
): Part<P> {
  let made: ComponentType<P> | null = null;
  let coming: Promise<void> | null = null;
  // A script that failed stays failed in most browsers until the page is loaded anew: it is asked for once.
  const fetch = () =>
    (coming ??= load().then((component) => {
      made = component;
      around.kept?.removeItem(mark(name));
    }));

  function Later(props: P) {
    const [state, set] = useState<"coming" | "made" | "failed">(made === null ? "coming" : "made");
    useEffect(() => {
      if (made !== null) {
        set("made");
        return undefined;
      }
      let wanted = true;
      const show = (what: "made" | "failed") => wanted && set(what);
      const patience = setTimeout(() => show("failed"), DEAD_S * 1000);
      fetch().then(
        () => show("made"),
        () => void (wanted && anewOnce(name, around).then((anew) => anew || show("failed"))),
      );
      return () => {
        wanted = false;
        clearTimeout(patience);
      };
    }, []);
    const Made = made;
    if (Made !== null) return <Made {...props} />;
    return (
      <Around {...props}>
        <Fetching name={name} failed={state === "failed"} again={() => tryAgain(around)} />
      </Around>
    );
  }
  Later.fetch = fetch;
  return Later;
}
