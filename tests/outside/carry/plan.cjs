// The plan for whoever waits at home by the page's modules: `plan.cjs PAGE.html PLANS.json`, a list of what
// `message.plan` takes. Prints what it returns.
"use strict";
const fs = require("node:fs");
const { modules } = require("./modules.cjs");

const m = modules(process.argv[2]);
const plans = JSON.parse(fs.readFileSync(process.argv[3], "utf8"));
console.log(JSON.stringify(plans.map((plan) => m.message.plan({ day: m.data.day, ...plan }))));
