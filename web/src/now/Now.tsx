import { usePage } from "../page";
import { Found } from "./Found";
import { Numbers } from "./Numbers";
import { Stream } from "./Stream";

export function Now() {
  const { view } = usePage();
  // An empty drawing would only look as if it meant something.
  if (view.plant === null) return null;
  return (
    <div class="now">
      <Stream />
      <Numbers />
      <Found />
    </div>
  );
}
