// What the checks of pages have in common: a page in Chromium with everything that it complains of or asks
// for, and the faults that an accessibility checker (axe) finds in it.
"use strict";
const fs = require("node:fs");
const { chromium } = require("playwright-core");

const path = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((one) => fs.existsSync(one));

exports.launched = () => chromium.launch({ executablePath: path, args: ["--no-sandbox"] });

exports.opened = async (browser, page, options) => {
  const tab = await (await browser.newContext(options)).newPage();
  const seen = { complaints: [], requests: 0 };
  tab.on("console", (message) => seen.complaints.push(message.text()));
  tab.on("pageerror", (error) => seen.complaints.push(String(error)));
  tab.on("dialog", (dialog) => { seen.complaints.push("a dialog"); dialog.dismiss(); });
  tab.on("request", (request) => { if (!request.url().startsWith("data:")) seen.requests += 1; });
  await tab.goto(`file://${page}`);
  return [tab, seen];
};

exports.faults = async (tab) => {
  // the checker is our own test's program, which the page's policy rightly refuses as an element
  await tab.evaluate(fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8"));
  const result = await tab.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  return result.violations.map(({ id, help, nodes }) => ({ id, help, first: nodes[0].html.slice(0, 160), count: nodes.length }));
};
