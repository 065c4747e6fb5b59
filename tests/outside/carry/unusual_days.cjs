// Days that are noted otherwise than intended: `unusual_days.cjs FOLDER OPTIONS.json OUT`. Two days in one page, a
// telephone whose clock is wrong, no position, no track, a number that is taken. Saves the files of each day into its
// folder in OUT and prints what the page said as JSON.
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const { launched } = require("../browser.cjs");
const { prepared } = require("./walker.cjs");
const { served } = require("./served.cjs");

const [folder, options, out] = process.argv.slice(2);
const { now: start, from, first: number } = JSON.parse(fs.readFileSync(options, "utf8"));

const refusing = () => {
  const receiver = { watchPosition: (found, error) => { setTimeout(() => error({ code: 1 }), 0); return 1; }, clearWatch: () => {}, getCurrentPosition: () => {} };
  Object.defineProperty(navigator, "geolocation", { get: () => receiver, configurable: true });
};

const day = async (browser, address, name, { ahead = 0, refused = false }, act) => {
  const context = await browser.newContext({ viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, acceptDownloads: true });
  const tab = await context.newPage(), complaints = [];
  tab.on("console", (message) => complaints.push(message.text()));
  tab.on("pageerror", (error) => complaints.push(String(error)));
  await tab.addInitScript(prepared);
  await tab.addInitScript((value) => { self.walk.now = value; }, start + ahead);
  if (refused) await tab.addInitScript(refusing);
  await tab.goto(address);
  await tab.waitForSelector("body[data-ready]");
  await tab.click('nav [data-part="book"]');
  const state = { now: start, east: 0 };
  // fixes every five seconds along a line to the east; the clock of the telephone is ahead of theirs
  const walked = async (seconds, speed = 1) => {
    await tab.evaluate(({ now, east, seconds: all, speed: pace, from: origin, ahead: wrong }) => {
      for (let step = 5; step <= all; step += 5) {
        self.walk.now = now + step + wrong;
        const at = east + step * pace, coords = { latitude: origin[0] + 4e-5 * Math.sin(at / 40), longitude: origin[1] + at / 82000, accuracy: 6 };
        for (const call of self.walk.callbacks) call({ coords, timestamp: (now + step) * 1000 });
      }
    }, { ...state, seconds, speed, from, ahead });
    state.now += seconds;
    state.east += seconds * speed;
  };
  const later = (seconds) => { state.now += seconds; state.east = -300; return tab.evaluate((value) => { self.walk.now = value; }, state.now + ahead); };
  const noted = async (fields, given) => {
    await tab.tap("#new-find");
    if (given) await tab.fill("#find-number", given);
    for (const [field, text] of Object.entries(fields)) await tab.fill(`#find-${field}`, text);
    await tab.tap("#find button[type=submit]");
    await tab.waitForFunction(() => document.getElementById("find").hidden || /taken/.test(document.getElementById("book-state").textContent));
    return tab.textContent("#book-state");
  };
  const said = { name, ...await act({ tab, walked, later, noted }) };
  fs.mkdirSync(path.join(out, name));
  said.saved = [];
  for (const id of ["save-table", "save-track"]) {
    if (!await tab.isVisible(`#${id}`)) continue;
    const [download] = await Promise.all([tab.waitForEvent("download"), tab.click(`#${id}`)]);
    await download.saveAs(path.join(out, name, download.suggestedFilename()));
    said.saved.push(download.suggestedFilename());
  }
  await context.close();
  return { ...said, complaints };
};

const ONE = { name: "Leotia lubrica", substrate: "soil" }, OTHER = { name: "Mycena interrupta", substrate: "dead wood" };
const DAYS = {
  "two-days": [{}, async ({ tab, walked, later, noted }) => {
    await tab.click("#record");
    await walked(200);
    await walked(90, 0);
    await noted(ONE);
    await walked(200);
    await tab.click("#record");
    await later(86400);
    await tab.click("#record");
    await walked(200);
    await walked(90, 0);
    const last = await noted(OTHER);
    await walked(200);
    return { last, list: await tab.textContent("#finds") };
  }],
  "wrong-clock": [{ ahead: 47 * 60 }, async ({ tab, walked, noted }) => {
    await tab.click("#record");
    await walked(300);
    await walked(90, 0);
    const first = await noted(ONE);
    await walked(300);
    return { first, here: await tab.textContent("#here") };
  }],
  "no-position": [{ refused: true }, async ({ noted }) => ({ first: await noted(ONE), second: await noted(OTHER) })],
  "no-track": [{}, async ({ tab, walked, noted }) => {
    await tab.click('nav [data-part="way"]');
    await tab.click("#find-me");
    await walked(60);
    await tab.click('nav [data-part="book"]');
    await noted(ONE);
    const taken = await noted(OTHER, number);
    await tab.click("#cancel");
    return { taken, second: await noted(OTHER) };
  }],
};

(async () => {
  const { server, address } = await served(folder), browser = await launched(), report = [];
  for (const [name, [conditions, act]] of Object.entries(DAYS)) report.push(await day(browser, address, name, conditions, act));
  await browser.close();
  server.close();
  console.log(JSON.stringify(report));
})().catch((error) => { console.error(error); process.exit(1); });
