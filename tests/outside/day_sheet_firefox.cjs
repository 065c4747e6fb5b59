// Opens one page in Debian's Firefox, uses it, and prints what was seen as JSON.
"use strict";
const assert = require("node:assert");
const fs = require("node:fs");
const puppeteer = require("puppeteer-core");

const [page, pdf] = process.argv.slice(2);
const program = ["/usr/bin/firefox-esr", "/usr/bin/firefox"].find((one) => fs.existsSync(one));

(async () => {
  const browser = await puppeteer.launch({ browser: "firefox", headless: true, executablePath: program });
  const tab = await browser.newPage(), complaints = [];
  try {
    tab.on("console", (message) => complaints.push(message.text()));
    tab.on("pageerror", (error) => complaints.push(String(error)));
    await tab.setViewport({ width: 1200, height: 900 });
    await tab.goto(`file://${page}`);
    const count = (selector) => tab.evaluate((selector) => [...document.querySelectorAll(selector)].filter((one) => one.checkVisibility()).length, selector);
    const shown = () => count(".card");
    assert.equal(await shown(), 0, "no card before a choice");
    const [x, y] = await tab.evaluate(() => {
      document.getElementById("map").scrollIntoView({ block: "center", behavior: "instant" });
      const box = [...document.querySelectorAll("#map .choice")].at(-1).querySelector("path").getBoundingClientRect();
      return [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
    });
    await tab.mouse.click(x + 4, y + 3);
    assert.equal(await shown(), 1, "a click near a mark shows one card");
    await tab.evaluate(() => document.querySelector('#map .choice[aria-pressed="true"]').focus());
    for (const key of ["+", "+", "+", "+"]) await tab.keyboard.press(key);
    const [size, inside] = await tab.evaluate(() => {
      const world = document.getElementById("world").getAttribute("transform");
      const map = document.getElementById("map").getBoundingClientRect();
      const box = document.querySelector('#map .choice[aria-pressed="true"] path').getBoundingClientRect();
      const x = (box.left + box.right) / 2, y = (box.top + box.bottom) / 2;
      return [Number(/scale\(([^)]+)\)/.exec(world)[1]), x > map.left && x < map.right && y > map.top && y < map.bottom];
    });
    assert.ok(size > 4 && inside, `plus enlarges to ${size}, the chosen find in view: ${inside}`);
    const first = await tab.evaluate(() => document.activeElement.dataset.find);
    await tab.keyboard.press("ArrowLeft");
    assert.notEqual(await tab.evaluate(() => document.activeElement.dataset.find), first, "an arrow goes to another find");
    await tab.keyboard.press("Escape");
    assert.equal(await shown(), 0, "Escape ends the choice");
    const filter = (words) => tab.evaluate((words) => {
      const filter = document.getElementById("filter");
      filter.value = words;
      filter.dispatchEvent(new Event("input"));
    }, words);
    await filter("no find has these words");
    assert.equal(await count("#finds tbody tr"), 0, "the filter hides rows");
    await filter("");
    const pins = await tab.evaluate(() => document.querySelectorAll("#map .choice").length);
    await tab.pdf({ path: pdf, format: "A4", margin: { top: "13mm", bottom: "13mm", left: "12mm", right: "12mm" } });
    console.log(JSON.stringify({ pins, complaints, agent: await browser.version() }));
  } finally {
    await browser.close();
  }
})().catch((error) => { console.error(error); process.exit(1); });
