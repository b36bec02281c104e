import { usePage } from "../page";
import { type Row, Rows } from "./Rows";
import { limitsInForce } from "./standing";

/** What the plant keeps to. It is changed in the configuration file, not here. */
export function LimitsInForce() {
  const { view, units } = usePage();
  const rows = limitsInForce(view.plant?.limits ?? null, units);
  const given = view.plant?.given_reasons ?? [];
  rows.push(...given.map(({ means, why }): Row => [means, why]));
  if (rows.length === 0) return <p class="nothing">Nothing is heard from control.</p>;
  return (
    <>
      <Rows rows={rows} long />
      <p class="hint">Change these in the configuration file, then restart with the plant at rest.</p>
    </>
  );
}
