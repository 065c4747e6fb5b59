// The names on the map of a page with sites: `names.cjs PAGE.html`. Prints how many are drawn at some scales, and how
// many pairs of them overlap.
"use strict";
const { launched } = require("../browser.cjs");

(async () => {
  const browser = await launched(), tab = await (await browser.newContext({ viewport: { width: 390, height: 844 } })).newPage();
  const report = { complaints: [], drawn: [], overlaps: [] };
  tab.on("console", (message) => report.complaints.push(message.text()));
  tab.on("pageerror", (error) => report.complaints.push(String(error)));
  await tab.goto(`file://${process.argv[2]}`);
  await tab.waitForSelector("body[data-ready]");
  await tab.click('nav [data-part="map-part"]');
  for (const button of [null, "in", "in", "in", "all", "in"]) {
    if (button) await tab.click(`[data-map="${button}"]`);
    await tab.waitForTimeout(400);
    const boxes = await tab.evaluate(() => map.names().map((one) => one.box));
    const meet = (a, b) => a[0] < b[2] && a[2] > b[0] && a[1] < b[3] && a[3] > b[1];
    report.drawn.push(boxes.length);
    report.overlaps.push(boxes.flatMap((a, index) => boxes.slice(index + 1).filter((b) => meet(a, b))).length);
  }
  await browser.close();
  console.log(JSON.stringify(report));
})().catch((error) => { console.error(error); process.exit(1); });
