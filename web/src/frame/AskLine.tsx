import type { Ask } from "../api";
import { believed } from "../flow";
import { rounded, unbroken } from "../format";
import { usePage } from "../page";
import type { Quantity } from "../units";

/** What the hand that is asked for changes: the number to look at meanwhile. */
const WATCHED: Record<string, [channel: string, quantity: Quantity]> = {
  open_regulator: ["vessel_pressure", "high_pressure"],
  raise_pressure: ["vessel_pressure", "high_pressure"],
  switch_pump_off: ["vessel_pressure", "high_pressure"],
};

/** What a person waits for while doing it, as it stands now; null where nothing measures it. */
export function useWatched(ask: Ask | null): string | null {
  const { view, units } = usePage();
  const [channel, quantity] = (ask === null ? undefined : WATCHED[ask.id]) ?? [];
  if (channel === undefined || quantity === undefined) return null;
  const value = believed(view, channel);
  return value === null ? null : `now ${rounded(value, quantity, units)}`;
}

export function Hand() {
  return (
    <svg viewBox="0 0 24 24" aria-hidden="true">
      <path d="M8 12V5.5a1.7 1.7 0 0 1 3.4 0V10m0-1V4a1.7 1.7 0 0 1 3.4 0v6m0-3.5a1.7 1.7 0 0 1 3.4 0V15c0 4-2.5 6.5-6 6.5-3.2 0-4.8-1.6-6.3-4.5L3.7 13c-.7-1.5 1.3-2.6 2.3-1.3L8 14" />
    </svg>
  );
}

/** What a person must do now, wherever the page is scrolled and whatever stands above: it leads to the whole of it. */
export function AskLine({ onPress }: { onPress: () => void }) {
  const { view } = usePage();
  const ask = view.plant?.ask ?? null;
  const watched = useWatched(ask);
  if (view.past || ask === null || ask.text === null) return null;
  return (
    <button type="button" class="ask-line" onClick={onPress}>
      <Hand />
      <span>
        <span class="hidden">For you to do: </span>
        {unbroken(ask.text)}
      </span>
      {watched !== null && <strong>{unbroken(watched)}</strong>}
    </button>
  );
}
