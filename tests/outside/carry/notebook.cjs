// A day noted on the page: `notebook.cjs FOLDER OPTIONS.json OUT`. Walks with a receiver, takes finds by tapping,
// closes and opens the page in between, saves both files into OUT, wipes the page. Prints what was noted as JSON.
"use strict";
const assert = require("node:assert");
const fs = require("node:fs");
const path = require("node:path");
const { launched, faults } = require("../browser.cjs");
const { prepared } = require("./walker.cjs");
const { served } = require("./served.cjs");

const [folder, options, out] = process.argv.slice(2);
const { now: start, from, finds } = JSON.parse(fs.readFileSync(options, "utf8"));

const opened = async (context, address, now) => {
  const tab = await context.newPage();
  const complaints = [];
  tab.on("console", (message) => complaints.push(message.text()));
  tab.on("pageerror", (error) => complaints.push(String(error)));
  await tab.addInitScript(prepared);
  await tab.addInitScript((value) => { self.walk.now = value; }, now);
  await tab.goto(address);
  await tab.waitForSelector("body[data-ready]");
  return [tab, complaints];
};

// Fixes every five seconds along a line to the east, so many metres a second.
const walked = (tab, state, seconds, speed = 1) => tab.evaluate(({ began, at, until, from: origin, speed }) => {
  for (let now = began + 5; now <= until; now += 5) {
    self.walk.now = now;
    const east = at + (now - began) * speed;
    const coords = { latitude: origin[0] + 4e-5 * Math.sin(east / 40), longitude: origin[1] + east / 82000, accuracy: 6 };
    for (const call of self.walk.callbacks) call({ coords, timestamp: now * 1000 });
  }
}, { began: state.now, at: state.east, until: state.now + seconds, from, speed }).then(() => {
  state.now += seconds;
  state.east += seconds * speed;
});

const noted = async (tab, state, find) => {
  let taps = 0;
  const tap = async (selector) => { taps += 1; await tab.locator(selector).tap(); };
  await tap("#new-find");
  const place = { number: await tab.inputValue("#find-number"), time: state.now, at: [from[0], from[1] + state.east / 82000] };
  await tap(`#quick button:nth-of-type(${find.quick})`);
  for (const [name, text] of Object.entries(find.fields)) await tab.fill(`#find-${name}`, text);
  await tap("#find button[type=submit]");
  await tab.waitForFunction(() => document.getElementById("find").hidden);
  assert.ok(taps <= 4, `${taps} taps`);
  return { ...place, ...find.fields, taps };
};

(async () => {
  const { server, address } = await served(folder);
  const browser = await launched();
  const context = await browser.newContext({ viewport: { width: 320, height: 568 }, hasTouch: true, isMobile: true, acceptDownloads: true });
  const state = { now: start, east: 0 }, written = [];
  let [tab, complaints] = await opened(context, address, start);
  const all = [complaints];
  await tab.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await context.setOffline(true);
  await tab.click('nav [data-part="book"]');
  await tab.click("#record");
  for (const [index, find] of finds.entries()) {
    await walked(tab, state, 240);
    await walked(tab, state, 90, 0);
    written.push(await noted(tab, state, find));
    await walked(tab, state, 60, 0);
    await walked(tab, state, 60);
    if (index === 1) {
      // the browser is ended without a word; recording goes on by itself
      await tab.close();
      state.now += 200;
      state.east += 60;
      [tab, complaints] = await opened(context, address, state.now);
      all.push(complaints);
      await tab.click('nav [data-part="book"]');
      assert.equal(await tab.getAttribute("#record", "aria-pressed"), "true", "recording goes on");
    }
  }
  await walked(tab, state, 300);
  const lines = await tab.locator("#finds li").count();
  assert.equal(lines, finds.length);
  await tab.click("#undo");
  await tab.waitForFunction((count) => document.querySelectorAll("#finds li").length === count - 1, lines);
  await tab.click("#restore");
  await tab.waitForFunction((count) => document.querySelectorAll("#finds li").length === count, lines);
  const violations = await faults(tab);
  const small = await tab.evaluate(() => [...document.querySelectorAll("button, a.button, input, select, summary")]
    .filter((one) => one.offsetParent !== null && (one.offsetHeight < 48 || one.offsetWidth < 48)).map((one) => one.id || one.textContent));
  for (const id of ["save-table", "save-track"]) {
    const [download] = await Promise.all([tab.waitForEvent("download"), tab.click(`#${id}`)]);
    await download.saveAs(path.join(out, download.suggestedFilename()));
  }
  const wide = await tab.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  await tab.click('nav [data-part="plan"]');
  await tab.selectOption("#plan-car", { label: "Sawmill gate" });
  await tab.fill("#plan-back", "16:30");
  await tab.fill("#plan-alarm", "18:00");
  const plan = await tab.textContent("#plan-message");
  await tab.click("#wipe");
  await tab.click("#wipe-yes");
  await tab.waitForFunction(() => document.body.textContent.startsWith("Wiped"));
  const left = await tab.evaluate(async () => [(await indexedDB.databases()).length, (await caches.keys()).length, (await navigator.serviceWorker.getRegistrations()).length]);
  await browser.close();
  server.close();
  console.log(JSON.stringify({ written, violations, small, wide, plan, left, complaints: all.flat(), ended: state.now }));
})().catch((error) => { console.error(error); process.exit(1); });
