import { render } from "preact";
import { App } from "./app";
import { startPalette } from "./palette";
import "./styles/tokens.css";
import "./styles/base.css";
import "./styles/frame.css";
import "./styles/now.css";
import "./styles/sheet.css";

startPalette();
const root = document.getElementById("page");
if (root !== null) render(<App />, root);
