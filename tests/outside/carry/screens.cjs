// Every screen of the page to carry, each as light, dark and forced colours, narrow, rotated and with letters of twice
// the size: `screens.cjs FOLDER OPTIONS.json [PICTURES]`, a page with closed areas and sealed places. Prints as JSON
// what axe finds, what scrolls sideways, which controls are smaller than 48 pixels and which words are cut; writes a
// picture of each screen where a folder for them is given.
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const { launched, faults } = require("../browser.cjs");
const { prepared } = require("./walker.cjs");
const { served } = require("./served.cjs");

const [folder, options, pictures] = process.argv.slice(2);
const { now, night, from, narrow, passphrase, looks } = JSON.parse(fs.readFileSync(options, "utf8"));

const LOOKS = {
  light: { viewport: { width: 320, height: 568 }, colorScheme: "light" },
  dark: { viewport: { width: 412, height: 915 }, colorScheme: "dark" },
  forced: { viewport: { width: 360, height: 740 }, forcedColors: "active" },
  "forced-dark": { viewport: { width: 360, height: 740 }, forcedColors: "active", colorScheme: "dark" },
  rotated: { viewport: { width: 568, height: 320 }, colorScheme: "light" },
  "rotated-wide": { viewport: { width: 915, height: 412 }, colorScheme: "dark" },
  large: { viewport: { width: 320, height: 568 }, colorScheme: "light", letters: 2 },
  "large-rotated": { viewport: { width: 740, height: 360 }, colorScheme: "light", letters: 2 },
};

// What cannot be seen or hit, in the page.
const measured = () => {
  const visible = (one) => one.offsetParent !== null || getComputedStyle(one).position === "fixed";
  const named = (one) => one.id || one.dataset.part || one.textContent.trim().slice(0, 40);
  const controls = [...document.querySelectorAll("button, a.button, input, select, summary")].filter(visible);
  const cut = [...document.querySelectorAll("main *, nav *, header *")].filter((one) => visible(one) && one.children.length === 0 && one.textContent.trim())
    .filter((one) => { const box = one.getBoundingClientRect(), style = getComputedStyle(one); return style.clipPath === "none" && !one.closest(".wide") && (box.right > innerWidth + 1 || box.left < -1 || (one.scrollWidth > one.clientWidth + 1 && style.display !== "inline")); });
  return {
    wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
    small: controls.filter((one) => one.offsetHeight < 48 || one.offsetWidth < 48).map(named),
    cut: cut.map(named),
  };
};

const opened = async (browser, address, { letters, ...look }, begun, refused) => {
  const context = await browser.newContext({ ...look, hasTouch: true, isMobile: true }), tab = await context.newPage();
  await tab.addInitScript(prepared);
  await tab.addInitScript((value) => { self.walk.now = value; }, begun);
  if (refused) {
    await tab.addInitScript(() => {
      const receiver = { watchPosition: (found, error) => { setTimeout(() => error({ code: 1 }), 0); return 1; } };
      Object.defineProperty(navigator, "geolocation", { get: () => receiver, configurable: true });
    });
  }
  await tab.goto(address);
  await tab.waitForSelector("body[data-ready]");
  if (letters) await tab.evaluate((times) => { document.documentElement.style.fontSize = `${100 * times}%`; }, letters);
  return tab;
};

// As somebody does who scrolls a control clear of the parts that stay at the edge of the screen.
const hit = async (tab, selector) => {
  await tab.locator(selector).evaluate((one) => one.scrollIntoView({ block: "center" }));
  await tab.click(selector);
};
const part = (tab, name) => tab.click(`nav [data-part="${name}"]`);
const typed = async (tab, text) => { await tab.fill("#typed-text", text); await hit(tab, "#typed button"); };
// A receiver at a place: ten fixes that agree, with a stated error of so many metres.
const fixed = async (tab, [latitude, longitude], accuracy) => {
  await hit(tab, "#find-me");
  await tab.evaluate((coords) => {
    for (let step = 0; step < 10; step += 1) {
      self.walk.now += 1;
      for (const call of self.walk.callbacks) call({ coords, timestamp: self.walk.now * 1000 });
    }
  }, { latitude, longitude, accuracy });
};

// Name, the clock, and how to come to it; each goes on from the one before unless it has a clock.
const SCREENS = [
  ["begin", now, async () => {}],
  ["not-a-position", null, (tab) => typed(tab, "between two beeches")],
  ["led", null, (tab) => fixed(tab, from, 6)],
  ["legs", null, (tab) => hit(tab, "#legs-part summary")],
  ["rules", null, async (tab) => { await hit(tab, "#legs-part summary"); await hit(tab, "#rules summary"); }],
  ["map", null, (tab) => part(tab, "map-part")],
  ["sites-wrong", null, async (tab) => { await tab.fill("#passphrase", "not this one"); await hit(tab, "#unlock button"); await tab.waitForFunction(() => /does not/.test(document.getElementById("unlocked").textContent)); }],
  ["sites-open", null, async (tab) => { await tab.fill("#passphrase", passphrase); await hit(tab, "#unlock button"); await tab.waitForFunction(() => /Opened/.test(document.getElementById("unlocked").textContent)); }],
  ["book", null, (tab) => part(tab, "book")],
  ["find", null, (tab) => hit(tab, "#new-find")],
  ["found", null, async (tab) => { await hit(tab, "#quick button:nth-of-type(2)"); await tab.fill("#find-name", "Leotia lubrica (Scop.) Pers. in a name of some length"); await hit(tab, "#find [type=submit]"); await tab.waitForFunction(() => document.getElementById("find").hidden); }],
  ["recording", null, async (tab) => { await hit(tab, "#record"); await hit(tab, "#undo"); await tab.waitForFunction(() => !document.getElementById("restore").hidden); }],
  ["plan", null, (tab) => part(tab, "plan")],
  ["planned", null, async (tab) => { await tab.selectOption("#plan-car", { index: 1 }); await tab.fill("#plan-back", "21:30"); await tab.fill("#plan-alarm", "22:30"); }],
  ["wipe", null, (tab) => hit(tab, "#wipe")],
  ["wiped", null, async (tab) => { await hit(tab, "#wipe-yes"); await tab.waitForFunction(() => document.body.textContent.startsWith("Wiped")); }],
  ["not-allowed", now, (tab) => hit(tab, "#find-me"), true],
  ["pointing", null, (tab) => hit(tab, "#point-out")],
  ["narrow", now, (tab) => fixed(tab, narrow, 18)],
  ["dark", night, (tab) => fixed(tab, from, 6)],
];

(async () => {
  const { server, address } = await served(folder), browser = await launched(), report = {};
  for (const name of looks) {
    let tab = null;
    for (const [screen, begun, act, refused] of SCREENS) {
      if (begun !== null) {
        if (tab) await tab.context().close();
        tab = await opened(browser, address, LOOKS[name], begun, refused);
      }
      await act(tab);
      await tab.waitForTimeout(60);
      report[`${name} ${screen}`] = { ...await tab.evaluate(measured), violations: await faults(tab) };
      if (pictures) await tab.screenshot({ path: path.join(pictures, `${name}-${screen}.png`), fullPage: screen !== "led" });
    }
    await tab.context().close();
  }
  await browser.close();
  server.close();
  process.stdout.write(JSON.stringify(report));
})().catch((error) => { console.error(error); process.exit(1); });
