// Walks back with the page alone: `walks.cjs FOLDER OPTIONS.json`. Writes what happened beside
// the options as walks-report.json.
"use strict";
const fs = require("node:fs");
const { launched, faults } = require("../browser.cjs");
const { prepared, walked } = require("./walker.cjs");
const { served } = require("./served.cjs");
const { modules } = require("./modules.cjs");
const path = require("node:path");

const [folder, options] = process.argv.slice(2);
const { count, seed, closed, goals, start, east, slowdown, now } = JSON.parse(fs.readFileSync(options, "utf8"));
let random = seed;
const uniform = (low, high) => { random = (random * 1103515245 + 12345) % 2147483648; return low + (high - low) * random / 2147483648; };

const inside = (ring, at) => ring.reduce((odd, a, index) => {
  const b = ring[(index + 1) % ring.length];
  return (a[1] > at[1]) !== (b[1] > at[1]) && (b[0] - a[0]) * (at[1] - a[1]) / (b[1] - a[1]) + a[0] > at[0] ? !odd : odd;
}, false);
const place = () => {
  for (;;) {
    const at = [uniform(start[0], start[2]), uniform(start[1], start[3])];
    if (!closed.some((ring) => inside(ring, at))) return at;
  }
};

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

const slowed = async (context, tab) => {
  const session = await context.newCDPSession(tab);
  await session.send("Emulation.setCPUThrottlingRate", { rate: slowdown });
};

const OWN = ["", "index.html", "worker.js", "manifest.webmanifest", "icon.svg"];
const own = (url, address) => url.startsWith(address) && OWN.includes(url.slice(address.length));

// Whether the straight line from a start would lead through a closed area.
const straight = (m, world, at) => {
  const from = world.plane.to(at);
  const near = goals.map((goal) => world.plane.to(goal)).sort((a, b) => Math.hypot(a[0] - from[0], a[1] - from[1]) - Math.hypot(b[0] - from[0], b[1] - from[1]))[0];
  return m.closed.crosses(world.closed, from, near);
};

(async () => {
  const { server, address } = await served(folder);
  const browser = await launched();
  const m = modules(path.join(folder, "index.html")), world = await m.load.world(m.data);
  const report = { walks: [], complaints: [], requests: [], baseline: 0 };
  for (let number = 0; number < count; number += 1) {
    const at = place();
    if (straight(m, world, at)) report.baseline += 1;
    const context = await browser.newContext({ viewport: { width: number % 2 ? 390 : 320, height: 568 }, hasTouch: true, isMobile: true });
    let [tab, complaints] = await opened(context, address, now);
    await tab.waitForFunction(() => navigator.serviceWorker.controller !== null);
    await context.setOffline(true);
    // reloading asks for the page's own files, which the worker answers; anything else would be a request
    context.on("request", (request) => { if (!own(request.url(), address)) report.requests.push(request.url()); });
    await slowed(context, tab);
    await tab.click("#find-me");
    let state = {
      at, began: now, now, step: 5, steps: 90, speed: 1, seed: 17 * number + 5 + 1009 * (seed - 11), radius: uniform(5, 30), error: [0, 0], gap: 0,
      jumps: 0, stated: 0, held: 0, wrong: 0, refused: 0, standing: 0, length: 0, answers: [], trail: [], closed, goals, east, most: 4 * 3600, ended: "",
    };
    state = await tab.evaluate(walked, state);
    // in the first walk that is still under way
    if (!report.turned && !state.ended) {
      // the telephone's top points to magnetic 270
      await tab.click("#compass");
      report.turned = await tab.evaluate(() => {
        dispatchEvent(new DeviceOrientationEvent("deviceorientationabsolute", { alpha: 90, beta: 0, gamma: 0, absolute: true }));
        const turn = /rotate\(([-\d.]+)\)/.exec(document.querySelector("#arrow path").getAttribute("transform"));
        return [Number(turn[1]), Number(/^\d+/.exec(document.getElementById("leg-magnetic").textContent)[0]), document.getElementById("trust").textContent];
      });
    }
    if (!state.ended) {
      // the page is closed and opened again without a network
      await tab.close();
      [tab, complaints] = await opened(context, address, state.now);
      await slowed(context, tab);
      await tab.click("#find-me");
      state = await tab.evaluate(walked, { ...state, steps: 400 });
    }
    if (!state.ended) {
      await tab.setViewportSize({ width: 568, height: 320 });
      state = await tab.evaluate(walked, { ...state, steps: 5000 });
    }
    report.complaints.push(...complaints);
    report.walks.push({ from: at, ended: state.ended, length: state.length, seconds: state.now - state.began, radius: state.radius, stated: state.stated, held: state.held, answers: state.answers, jumps: state.jumps, standing: state.standing, wrong: state.wrong, last: state.last, trail: state.ended === "reached" ? [] : state.trail });
    if (number === 0) report.violations = await faults(tab);
    await context.close();
  }
  const slow = await browser.newContext({ viewport: { width: 390, height: 844 } }), first = await slow.newPage();
  await slowed(slow, first);
  await first.goto(address);
  await first.waitForSelector("body[data-ready]");
  report.first_paint_ms = await first.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0].startTime);
  report.ready_ms = await first.evaluate(() => performance.now());
  await browser.close();
  server.close();
  fs.writeFileSync(path.join(path.dirname(options), "walks-report.json"), JSON.stringify(report));
})().catch((error) => { console.error(error); process.exit(1); });
