import type { ComponentChildren } from "preact";
import type { Said } from "./useRead";

/** What an address said, once it is there; until then that it is being read, or why it cannot be. */
export function Told<T>({ said, children }: { said: Said<T>; children: (value: T) => ComponentChildren }) {
  switch (said.kind) {
    case "loading":
      return <p class="nothing">Reading…</p>;
    case "failed":
      return <p class="nothing">{said.text}</p>;
    case "ready":
      return <>{children(said.value)}</>;
  }
}
