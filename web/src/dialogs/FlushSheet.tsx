import { withUnit } from "../format";
import { usePage } from "../page";
import { Hold } from "./Hold";
import { Sheet } from "./Sheet";

/** A flush moves water and takes it from the tank: it is held for like a start. */
export function FlushSheet({ onFlush, onClose }: { onFlush: () => void; onClose: () => void }) {
  const { view, units } = usePage();
  const litres = view.plant?.limits?.["flush_l"] ?? null;
  return (
    <Sheet title="Flush with fresh water" onClose={onClose}>
      <p>
        {litres === null ? "Fresh water" : `${withUnit(litres, "volume", units)} of fresh water`} from the
        tank {litres === null ? "goes" : "go"} through the membrane and overboard. The pumps stay off.
      </p>
      <div class="sheet-end">
        <Hold label="Hold for one second to flush" disabled={view.past} onHeld={onFlush} />
      </div>
    </Sheet>
  );
}
