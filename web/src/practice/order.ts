/** From what a person chose to the command that breaks something, or mends it, on a simulated boat. */

import type { Arguments, FaultArgument, OfferedFault, StandingFault } from "../api";

export type Chosen = Record<string, string>;

/** What a field begins with. */
export function beginning(argument: FaultArgument): string {
  if (argument.choices.length > 0) return argument.choices[0] ?? "";
  return argument.typical === null || argument.typical === undefined ? "" : String(argument.typical);
}

function valueOf(argument: FaultArgument, text: string): number | string | null {
  if (argument.choices.length > 0) return text;
  const value = Number(text.replace(",", "."));
  return text.trim() === "" || !Number.isFinite(value) ? null : value;
}

/** Why one field is no good, null when it is. */
export function fieldProblem(argument: FaultArgument, text: string): string | null {
  if (text.trim() === "" && argument.optional) return null;
  const value = valueOf(argument, text);
  if (value === null) return "A number is wanted.";
  if (typeof value === "string") return null;
  const { low, high } = argument;
  if (typeof low === "number" && value < low) return `At least ${low}.`;
  if (typeof high === "number" && value > high) return `At most ${high}.`;
  return null;
}

/** The arguments of the `fault` command; null while a field is no good. */
export function order(fault: OfferedFault, target: string, chosen: Chosen): Arguments | null {
  const args: Arguments = { fault: fault.fault };
  if (fault.target !== null) {
    const choice = fault.choices.find((one) => String(one.value) === target);
    if (choice === undefined) return null;
    args[fault.target] = choice.value;
  }
  for (const argument of fault.arguments) {
    const text = chosen[argument.name] ?? beginning(argument);
    if (fieldProblem(argument, text) !== null) return null;
    const value = valueOf(argument, text);
    if (value !== null) args[argument.name] = value;
  }
  return args;
}

/** The arguments that end a standing fault. */
export function mend(standing: StandingFault, offered: readonly OfferedFault[]): Arguments {
  const target = offered.find((one) => one.fault === standing.fault)?.target ?? null;
  const args: Arguments = { fault: standing.fault, clear: true };
  if (target !== null && standing.target !== null) args[target] = standing.target;
  return args;
}
