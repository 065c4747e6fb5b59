// The verdicts of a page to carry on walks, by the page's own program: PAGE WALKS, a list of [start, seconds].
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const { modules } = require(path.join(__dirname, "..", "carry", "modules.cjs"));

const { light, data } = modules(process.argv[2]);
const walks = JSON.parse(fs.readFileSync(process.argv[3], "utf8"));
const verdicts = walks.map(([now, walk]) => light.verdict(now, walk, light.about(data.light, now)));
console.log(JSON.stringify({ verdicts, light: data.light }));
