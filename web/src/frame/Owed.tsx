import type { Purge } from "../api";
import { duration, plain, rounded } from "../format";
import { usePage } from "../page";

function purgeWords(purge: Purge, litres: (l: number) => string): string {
  const rinse =
    typeof purge.rinse_l === "number" && typeof purge.rinsed_l === "number" && purge.rinsed_l < purge.rinse_l
      ? ` Rinsed ${litres(purge.rinsed_l)} of ${litres(purge.rinse_l)}.`
      : "";
  const left =
    typeof purge.left_s === "number" && purge.left_s > 0 ? ` ${duration(purge.left_s)} overboard to go.` : "";
  return `First water still has to be thrown away (${plain(purge.of)}).${rinse}${left}`;
}

/** Nothing aboard measures preservative: only a nose, a tongue and a strip can end this. */
function Confirm() {
  const { perform } = usePage();
  return (
    <div class="owed confirm">
      <p>Smell it, taste a drop, dip a sulphite strip: no smell, no taste, strip at zero?</p>
      <button type="button" class="plain" onClick={() => perform("log", { kind: "purge_confirmed" })}>
        Smelt, tasted, tested
      </button>
    </div>
  );
}

/** Duties the plant has not had done yet, with what is still to come of them. */
export function Owed() {
  const { view, units } = usePage();
  const owed = view.plant?.owed ?? null;
  if (owed === null || view.past) return null;
  const resting = view.plant?.state === "standby" || view.plant?.state === "tripped";
  return (
    <>
      {owed.purge?.confirm === true && <Confirm />}
      {owed.purge?.confirm === false && (
        <p class="owed">{purgeWords(owed.purge, (litres) => rounded(litres, "volume", units))}</p>
      )}
      {owed.flush && resting && <p class="owed">A flush is owed: sea water stands in the membrane.</p>}
    </>
  );
}
