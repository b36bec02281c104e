import { SaidFacts } from "./Facts";
import { useRead } from "./useRead";

export function Plan() {
  const said = useRead<unknown>("/plan", 60);
  return (
    <section class="paper" aria-label="Plan">
      <h2>Plan</h2>
      <SaidFacts
        said={said}
        nothing="There is nothing to plan from yet: the tank's level or the daily use is not known."
      />
    </section>
  );
}
