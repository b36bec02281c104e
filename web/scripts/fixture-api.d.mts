import type { IncomingMessage, ServerResponse } from "node:http";

export interface FixtureOptions {
  name?: string;
  pin?: string | null;
  every_ms?: number;
}
export function fixtureNames(): string[];
export function fixtureApi(
  options?: FixtureOptions,
): (request: IncomingMessage, response: ServerResponse, next: () => void) => void;
