import { usePage } from "../page";
import { Due, RunTrend } from "../parts";
import { Found } from "./Found";
import { Numbers } from "./Numbers";
import { Stream } from "./Stream";
import { useWide } from "./wide";

export function Now() {
  const { view } = usePage();
  const wide = useWide();
  // An empty drawing would only look as if it meant something.
  if (view.plant === null) return null;
  return (
    <div class="now">
      <Stream />
      <Numbers />
      {wide && <RunTrend />}
      <div class="below">
        <Found />
        {wide && <Due />}
      </div>
    </div>
  );
}
