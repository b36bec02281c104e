import { useEffect, useRef, useState } from "preact/hooks";
import { read } from "../api";
import { failureWords } from "../trends/history";

export type Said<T> = { kind: "loading" } | { kind: "failed"; text: string } | { kind: "ready"; value: T };

/** Reads one address, again every so many seconds when wished, and at once when `turn` has changed; null reads nothing.
 * What was said stays until there is something newer to say of the same address. */
export function useRead<T>(path: string | null, every_s: number | null = null, turn = 0): Said<T> {
  const [said, setSaid] = useState<Said<T>>({ kind: "loading" });
  const read_of = useRef<string | null>(null);
  useEffect(() => {
    if (path === null) return undefined;
    let wanted = true;
    const ask = () => {
      read<T>(path)
        .then((value) => wanted && setSaid({ kind: "ready", value }))
        .catch((error: unknown) => wanted && setSaid({ kind: "failed", text: failureWords(error) }));
    };
    if (read_of.current !== path) setSaid({ kind: "loading" });
    read_of.current = path;
    ask();
    const timer = every_s === null ? null : setInterval(ask, every_s * 1000);
    return () => {
      wanted = false;
      if (timer !== null) clearInterval(timer);
    };
  }, [path, every_s, turn]);
  return said;
}
