import type { ComponentType } from "preact";
import { useEffect, useState } from "preact/hooks";
import type { ChartProps } from "./Chart";

/** The drawing library is fetched when the first chart is looked at. */
export function useChart(): ComponentType<ChartProps> | null {
  const [chart, setChart] = useState<{ made: ComponentType<ChartProps> } | null>(null);
  useEffect(() => {
    let wanted = true;
    void import("./Chart").then((module) => wanted && setChart({ made: module.default }));
    return () => {
      wanted = false;
    };
  }, []);
  return chart?.made ?? null;
}
