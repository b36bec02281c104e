import { useEffect, useState } from "preact/hooks";

const HEARD_MS = 8000;

/**
 * A text for a screen reader, said once when it changes. It does not stay: whoever reads the page later from top to
 * bottom must not come upon what was true a while ago.
 */
export function useSpoken(): [text: string, say: (text: string) => void] {
  const [text, say] = useState("");
  useEffect(() => {
    if (text === "") return;
    const timer = setTimeout(() => say(""), HEARD_MS);
    return () => clearTimeout(timer);
  }, [text]);
  return [text, say];
}
