import { useEffect, useRef, useState } from "preact/hooks";
import { read, ReadError } from "../api";

export type Said<T> = { kind: "loading" } | { kind: "failed"; text: string } | { kind: "ready"; value: T };

/** Why nothing could be read, in words. */
export function failureWords(error: unknown): string {
  if (error instanceof ReadError) {
    if (error.said !== null) return error.said;
    if (error.status === null) return "The boat's computer does not answer.";
    if (error.status === 404 || error.status === 501) return "The boat's computer does not keep this.";
    if (error.status === 401) return "The owner shows this only to those who know the PIN.";
    if (error.status === 503) return "The record cannot be read just now. The plant is not affected.";
    return `The record could not be read (error ${error.status}).`;
  }
  return "The record could not be understood.";
}

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
