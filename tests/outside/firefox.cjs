// Pages in Debian's Firefox, driven by WebDriver BiDi: `firefox.cjs PAGES.json`, a list of
// { file, walk } where `walk` (options of walker.cjs and the folder of a page to carry) is optional. Prints as JSON
// what each page complains of, asks for, how wide it is, what the keyboard reaches and what axe finds.
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const puppeteer = require("puppeteer-core");
const { prepared, walked } = require("./carry/walker.cjs");
const { served } = require("./carry/served.cjs");

const WIDTHS = [320, 390, 768, 1440];
const settings = (forced, downloads = "") => ({
  browser: "firefox", headless: true, timeout: 180_000, protocolTimeout: 600_000,
  executablePath: ["/usr/bin/firefox-esr", "/usr/bin/firefox"].find((one) => fs.existsSync(one)),
  // 2: the colours of the system, never those of the page, which is forced colours; 0: as usual
  extraPrefsFirefox: { "browser.display.document_color_use": forced ? 2 : 0, "network.captive-portal-service.enabled": false, "network.connectivity-service.enabled": false,
    ...(downloads ? { "browser.download.folderList": 2, "browser.download.dir": downloads, "browser.download.useDownloadDir": true, "browser.download.alwaysOpenPanel": false, "browser.helperApps.neverAsk.saveToDisk": "text/csv,application/gpx+xml" } : {}) },
});

const watched = async (tab) => {
  const seen = { complaints: [], requests: [] };
  tab.on("console", (message) => seen.complaints.push(message.text()));
  tab.on("pageerror", (error) => seen.complaints.push(String(error)));
  tab.on("request", (request) => { if (!request.url().startsWith("data:")) seen.requests.push(request.url()); });
  return seen;
};

const faults = async (tab) => {
  await tab.evaluate(fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8"));
  const result = await tab.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  return result.violations.map(({ id, help, nodes }) => ({ id, help, first: nodes[0].html.slice(0, 160), count: nodes.length }));
};

const reached = async (tab) => {
  const found = new Set();
  for (let step = 0; step < 12; step += 1) {
    await tab.keyboard.press("Tab");
    found.add(await tab.evaluate(() => {
      const one = document.activeElement, style = getComputedStyle(one);
      const name = (one.getAttribute("aria-label") || one.textContent || one.id).trim().slice(0, 30);
      return `${one.tagName.toLowerCase()} ${name} ${style.outlineStyle}`;
    }));
  }
  return [...found];
};

const looked = async (browser, file) => {
  const tab = await browser.newPage(), seen = await watched(tab), wide = {};
  await tab.goto(`file://${file}`);
  const asked = seen.requests.filter((url) => url !== `file://${file}`);
  for (const width of WIDTHS) {
    await tab.setViewport({ width, height: 800 });
    wide[width] = await tab.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  }
  const result = { complaints: [...seen.complaints], asked, wide, keyboard: await reached(tab), violations: await faults(tab) };
  await tab.close();
  return result;
};

const opened = async (context, address, now) => {
  const tab = await context.newPage(), seen = await watched(tab);
  await tab.setViewport({ width: 320, height: 568 });
  await tab.evaluateOnNewDocument(prepared);
  await tab.evaluateOnNewDocument((value) => { self.walk.now = value; }, now);
  await tab.goto(address);
  await tab.waitForSelector("body[data-ready]");
  return [tab, seen];
};

// The web space goes away after the first visit; the page is closed and opened again on the way.
const walk = async (browser, { folder, states }) => {
  const ends = [];
  for (const begun of states) {
    const { server, address } = await served(folder), context = await browser.createBrowserContext();
    let [tab, seen] = await opened(context, address, begun.now);
    await tab.waitForFunction(() => navigator.serviceWorker.controller !== null);
    await new Promise((done) => { server.close(done); server.closeAllConnections(); });
    await tab.evaluate(() => document.getElementById("find-me").click());
    let state = await tab.evaluate(walked, begun);
    if (!state.ended) {
      await tab.close();
      const before = seen.complaints;
      [tab, seen] = await opened(context, address, state.now);
      seen.complaints.push(...before);
      await tab.evaluate(() => document.getElementById("find-me").click());
      state = await tab.evaluate(walked, { ...state, steps: 6000 });
    }
    ends.push({ ended: state.ended, seconds: state.now - begun.began, stated: state.stated, held: state.held, complaints: seen.complaints, last: state.last });
    await context.close();
  }
  return ends;
};

// A day noted without a web space, the page closed and opened again between finds; the files are saved into OUT.
const noted = async (browser, { folder, out, now, from, finds }) => {
  const { server, address } = await served(folder), context = await browser.createBrowserContext(), complaints = [];
  let [tab, seen] = await opened(context, address, now);
  await tab.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await new Promise((done) => { server.close(done); server.closeAllConnections(); });
  const click = (selector) => tab.evaluate((one) => document.querySelector(one).click(), selector);
  const at = { now, east: 0 };
  const walk = async (seconds, speed) => {
    await tab.evaluate(({ now: begun, east, seconds: all, speed: pace, from: origin }) => {
      for (let step = 5; step <= all; step += 5) {
        self.walk.now = begun + step;
        const coords = { latitude: origin[0], longitude: origin[1] + (east + step * pace) / 82000, accuracy: 6 };
        for (const call of self.walk.callbacks) call({ coords, timestamp: (begun + step) * 1000 });
      }
    }, { ...at, seconds, speed, from });
    at.now += seconds;
    at.east += seconds * speed;
  };
  await click('nav [data-part="book"]');
  await click("#record");
  const written = [];
  for (const find of finds) {
    await walk(200, 1);
    await walk(90, 0);
    await click("#new-find");
    written.push({ number: await tab.evaluate(() => document.getElementById("find-number").value), at: [from[0], from[1] + at.east / 82000] });
    await click(`#quick button:nth-of-type(${find.quick})`);
    await tab.evaluate((fields) => { for (const [name, text] of Object.entries(fields)) document.getElementById(`find-${name}`).value = text; }, find.fields);
    await click("#find button[type=submit]");
    await tab.waitForFunction(() => document.getElementById("find").hidden);
    await walk(60, 0);
    complaints.push(...seen.complaints);
    await tab.close();
    [tab, seen] = await opened(context, address, at.now);
    await click('nav [data-part="book"]');
  }
  await walk(120, 1);
  for (const id of ["save-table", "save-track"]) {
    const count = fs.readdirSync(out).length;
    await click(`#${id}`);
    for (let wait = 0; wait < 100 && fs.readdirSync(out).filter((name) => !name.endsWith(".part")).length === count; wait += 1) await new Promise((done) => setTimeout(done, 50));
  }
  complaints.push(...seen.complaints);
  await context.close();
  return { written, complaints };
};

(async () => {
  const { pages, walks, forced, day } = JSON.parse(fs.readFileSync(process.argv[2], "utf8")), report = { pages: {}, walks: [] };
  const browser = await puppeteer.launch(settings(false));
  report.version = await browser.version();
  for (const file of pages) report.pages[path.basename(file)] = await looked(browser, file);
  if (walks) report.walks = await walk(browser, walks);
  await browser.close();
  if (day) {
    const saving = await puppeteer.launch(settings(false, day.out));
    report.day = await noted(saving, day);
    await saving.close();
  }
  const plain = forced.length ? await puppeteer.launch(settings(true)) : null;
  for (const file of forced) {
    const one = await looked(plain, file);
    report.pages[`${path.basename(file)}, forced colours`] = one;
  }
  if (plain) await plain.close();
  process.stdout.write(JSON.stringify(report));
})().catch((error) => { console.error(error); process.exit(1); });
