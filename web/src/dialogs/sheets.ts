/** The sheets that are asked for by a press: they come together. */

import "../styles/rooms";

export { FlushSheet } from "./FlushSheet";
export { PinDialog } from "./PinDialog";
export { StartSheet } from "./StartSheet";
