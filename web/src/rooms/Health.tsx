import { SaidFacts } from "./Facts";
import { ServiceLock } from "./ServiceLock";
import { SessionPanel } from "./SessionPanel";
import { useRead } from "./useRead";

export function Health() {
  const said = useRead<unknown>("/health", 60);
  return (
    <section class="paper" aria-label="Health">
      <h2>Health of the plant</h2>
      <SaidFacts
        said={said}
        nothing="Nothing is known yet. It takes some runs with a baseline before there is something to compare."
      />
      <ServiceLock />
      <SessionPanel />
    </section>
  );
}
