import { useEffect, useState } from "preact/hooks";
import { read } from "../api";
import { failureWords } from "../trends/history";

export type Said<T> = { kind: "loading" } | { kind: "failed"; text: string } | { kind: "ready"; value: T };

/** Reads one address, again every so many seconds when wished; null reads nothing. */
export function useRead<T>(path: string | null, every_s: number | null = null): Said<T> {
  const [said, setSaid] = useState<Said<T>>({ kind: "loading" });
  useEffect(() => {
    if (path === null) return undefined;
    let wanted = true;
    const ask = () => {
      read<T>(path)
        .then((value) => wanted && setSaid({ kind: "ready", value }))
        .catch((error: unknown) => wanted && setSaid({ kind: "failed", text: failureWords(error) }));
    };
    setSaid({ kind: "loading" });
    ask();
    const timer = every_s === null ? null : setInterval(ask, every_s * 1000);
    return () => {
      wanted = false;
      if (timer !== null) clearInterval(timer);
    };
  }, [path, every_s]);
  return said;
}
