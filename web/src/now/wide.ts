import { useEffect, useState } from "preact/hooks";

/** From here on more stands beside the drawing than under it; the style says the same. */
const WIDE = "(min-width: 700px)";

function matches(): boolean {
  return typeof matchMedia === "function" && matchMedia(WIDE).matches;
}

/** Whether there is room beside the drawing: what nobody would see is not fetched. */
export function useWide(): boolean {
  const [wide, set] = useState(matches);
  useEffect(() => {
    if (typeof matchMedia !== "function") return undefined;
    const query = matchMedia(WIDE);
    const follow = () => set(query.matches);
    query.addEventListener("change", follow);
    return () => query.removeEventListener("change", follow);
  }, []);
  return wide;
}
