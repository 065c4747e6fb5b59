// Loads the page's own modules that do not touch the page, from a page that trug wrote: the first parts of its
// program, up to the notebook's storage.
"use strict";
const fs = require("node:fs");

const NAMES = ["earth", "grid", "position", "light", "pace", "paths", "land", "line", "narrows", "closed", "waters", "wayout", "message", "fixes", "risk", "guide", "lead", "notebook", "load"];

exports.modules = (page) => {
  const html = fs.readFileSync(page, "utf8");
  const programs = [...html.matchAll(/<script>([\s\S]*?)<\/script>/g)];
  const data = JSON.parse(/<script type="application\/json" id="data">([\s\S]*?)<\/script>/.exec(html)[1]);
  const program = programs[programs.length - 1][1].split("// ---- page ----")[0];
  const found = new Function(`${program}\nreturn { ${NAMES.join(", ")} };`)();
  return { ...found, data };
};
