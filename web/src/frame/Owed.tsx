import type { Purge } from "../api";
import { duration, rounded } from "../format";
import { usePage } from "../page";
import { EndTest } from "./EndTest";

function purgeWords(purge: Purge, litres: (l: number) => string): string {
  const rinse =
    typeof purge.rinse_l === "number" && typeof purge.rinsed_l === "number" && purge.rinsed_l < purge.rinse_l
      ? ` Rinsed ${litres(purge.rinsed_l)} of ${litres(purge.rinse_l)}.`
      : "";
  const left =
    typeof purge.left_s === "number" && purge.left_s > 0 ? ` ${duration(purge.left_s)} overboard to go.` : "";
  return `First water goes overboard (${purge.named}).${rinse}${left}`;
}

/** Duties the plant has not had done yet, with what is still to come of them. */
export function Owed() {
  const { view, units } = usePage();
  const owed = view.plant?.owed ?? null;
  if (owed === null || view.past) return null;
  return (
    <>
      {owed.purge?.confirm === true && (
        <div class="owed confirm">
          <EndTest />
        </div>
      )}
      {owed.purge?.confirm === false && (
        <p class="owed">{purgeWords(owed.purge, (litres) => rounded(litres, "volume", units))}</p>
      )}
    </>
  );
}
