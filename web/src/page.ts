/** What every part of the page may need: what is shown, in which units, and how to give a command. */

import { createContext } from "preact";
import { useContext } from "preact/hooks";
import type { Arguments, Snapshot, UnitChoice } from "./api";
import type { View } from "./age";
import { METRIC } from "./units";

export interface Page {
  snapshot: Snapshot | null;
  view: View;
  units: UnitChoice;
  /** Gives a command; true once it was taken, where that is told at once. */
  perform: (command: string, args?: Arguments) => Promise<boolean> | void;
  /** Opens the sheet for a start with so much asked for; starts nothing. */
  openStart: (litres: number) => void;
}

const EMPTY: Page = {
  snapshot: null,
  view: { link: { kind: "seeking" }, plant: null, past: true, lag_s: 0 },
  units: METRIC,
  perform: () => undefined,
  openStart: () => undefined,
};

export const PageContext = createContext<Page>(EMPTY);

export function usePage(): Page {
  return useContext(PageContext);
}
