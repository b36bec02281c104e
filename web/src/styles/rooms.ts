/** The looks of all that is fetched later, in one piece: their order decides which rule wins. */

import "./dialogs.css";
import "./rooms.css";
