import type { RefObject } from "preact";
import { useEffect, useState } from "preact/hooks";

const MOSTLY = 0.5;

/**
 * Whether the first element of that kind within a scrolling box can be seen there for the most part; true where there
 * is none. It is looked for anew whenever `when` changes.
 */
export function useInSight(box: RefObject<HTMLElement>, selector: string, when: string): boolean {
  const [seen, setSeen] = useState(true);
  useEffect(() => {
    setSeen(true);
    const sought = box.current?.querySelector(selector) ?? null;
    if (sought === null) return;
    const watcher = new IntersectionObserver(
      ([entry]) => setSeen(entry !== undefined && entry.intersectionRatio >= MOSTLY),
      { root: box.current, threshold: MOSTLY },
    );
    watcher.observe(sought);
    return () => watcher.disconnect();
  }, [when]);
  return seen;
}
