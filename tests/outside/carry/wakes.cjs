// How often the page wakes and how long it works: `wakes.cjs FOLDER SECONDS OPTIONS.json`. For so many seconds with a
// fix each second on a way, then as long without one. Timers, frames and fixes are counted; the time of tasks is that
// of the browser. Prints JSON.
"use strict";
const fs = require("node:fs");
const { launched } = require("../browser.cjs");
const { served } = require("./served.cjs");

const [folder, seconds, options] = process.argv.slice(2);
const { from, now } = JSON.parse(fs.readFileSync(options, "utf8"));

const counted = (start) => {
  const real = Date.now.bind(Date), begun = real();
  Date.now = () => start * 1000 + real() - begun;
  self.woken = { timers: 0, frames: 0, fixes: 0 };
  const wrapped = (kind, call) => (...all) => { self.woken[kind] += 1; return call(...all); };
  for (const [name, kind] of [["setTimeout", "timers"], ["setInterval", "timers"], ["requestAnimationFrame", "frames"]]) {
    const own = self[name].bind(self);
    self[name] = (call, ...more) => own(wrapped(kind, call), ...more);
  }
  self.callbacks = [];
  const receiver = { watchPosition: (found) => { self.callbacks.push(wrapped("fixes", found)); return 1; }, clearWatch: () => {}, getCurrentPosition: () => {} };
  Object.defineProperty(navigator, "geolocation", { get: () => receiver, configurable: true });
};

const metrics = async (session) => {
  const { metrics: list } = await session.send("Performance.getMetrics");
  return Object.fromEntries(list.map(({ name, value }) => [name, value]));
};

(async () => {
  const { server, address } = await served(folder), browser = await launched();
  const context = await browser.newContext({ viewport: { width: 390, height: 844 } }), tab = await context.newPage();
  await tab.addInitScript(counted, now);
  await tab.goto(address);
  await tab.waitForSelector("body[data-ready]");
  await tab.click("#find-me");
  const session = await context.newCDPSession(tab);
  await session.send("Performance.enable");
  const fix = (step) => tab.evaluate(([at, metres]) => {
    const coords = { latitude: at[0] + metres / 111195, longitude: at[1], accuracy: 6 };
    for (const call of self.callbacks) call({ coords, timestamp: Date.now() });
  }, [from, step]);
  for (let step = 0; step < 4; step += 1) { await fix(step); await tab.waitForTimeout(1000); }
  const part = async (every) => {
    const before = await metrics(session), woken = await tab.evaluate(() => ({ ...self.woken }));
    for (let second = 0; second < Number(seconds); second += 1) {
      if (every) await fix(4 + second);
      await tab.waitForTimeout(1000);
    }
    const after = await metrics(session), since = await tab.evaluate(() => ({ ...self.woken }));
    const took = after.Timestamp - before.Timestamp;
    const each = (kind) => (since[kind] - woken[kind]) / took * 60;
    return { timers_a_minute: each("timers"), frames_a_minute: each("frames"), fixes_a_minute: each("fixes"), busy_share: (after.TaskDuration - before.TaskDuration) / took };
  };
  const report = { walking: await part(true), waiting: await part(false) };
  await browser.close();
  server.close();
  process.stdout.write(JSON.stringify(report));
})().catch((error) => { console.error(error); process.exit(1); });
