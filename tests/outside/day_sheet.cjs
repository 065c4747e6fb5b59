// Opens one page in the system's Chromium, uses it, and prints what was seen as JSON.
"use strict";
const assert = require("node:assert");
const { faults, launched, opened: open } = require("./browser.cjs");

const [page, pdf] = process.argv.slice(2);
const opened = (browser, options) => open(browser, page, options);
const shownCards = (tab) => tab.locator(".card:visible").count();
const size = (tab) => tab.evaluate(() => {
  const world = document.getElementById("world").getAttribute("transform") || "scale(1)";
  return Number(/scale\(([^)]+)\)/.exec(world)[1]);
});

async function byHand(tab) {
  assert.equal(await shownCards(tab), 0, "no card before a choice");
  // the last one lies on top where finds are close together
  const pin = tab.locator("#map .choice").last();
  await pin.click();
  assert.equal(await shownCards(tab), 1, "a click shows one card");
  assert.equal(await pin.getAttribute("aria-pressed"), "true");
  const before = await tab.locator("#scale text:not(.rim)").nth(2).textContent();
  for (let step = 0; step < 4; step += 1) await tab.locator('[data-map="in"]').click();
  assert.ok(await size(tab) > 5, "the map grows");
  const after = await tab.locator("#scale text:not(.rim)").nth(2).textContent();
  assert.notEqual(before, after, "the bar is measured again");
  const box = await tab.locator("#map").boundingBox();
  await tab.mouse.move(box.x + 200, box.y + 150);
  await tab.mouse.down();
  await tab.mouse.move(box.x + 120, box.y + 100, { steps: 5 });
  await tab.mouse.up();
  await tab.locator('[data-map="all"]').click();
  assert.equal(await size(tab), 1);
  await tab.locator("#timeline .choice").last().click();
  assert.equal(await shownCards(tab), 1);
}

async function sorted(tab) {
  const column = () => tab.locator("#finds tbody tr td:nth-child(8)").evaluateAll((cells) =>
    cells.map((cell) => (cell.dataset.value === undefined ? Infinity : Number(cell.dataset.value))));
  const heading = tab.locator("#finds thead button").nth(7);
  await heading.click();
  const up = await column();
  assert.deepEqual(up, [...up].sort((a, b) => a - b), "sorted upwards");
  await heading.click();
  const down = await column();
  assert.deepEqual(down, [...down].sort((a, b) => b - a), "sorted downwards");
  assert.equal(await tab.locator('#finds th[aria-sort="descending"]').count(), 1);
}

async function byKey(tab) {
  const pin = tab.locator("#map .choice").nth(1);
  await pin.focus();
  await tab.keyboard.press("Enter");
  assert.equal(await pin.getAttribute("aria-pressed"), "true", "Enter chooses");
  await tab.keyboard.press("+");
  assert.ok(await size(tab) > 1, "plus enlarges");
  await tab.keyboard.press("ArrowLeft");
  await tab.keyboard.press("0");
  assert.equal(await size(tab), 1, "zero shows all");
  // every control can be reached by the tab key
  await tab.evaluate(() => { document.activeElement.blur(); window.scrollTo(0, 0); });
  const reached = new Set();
  for (let step = 0; step < 200; step += 1) {
    await tab.keyboard.press("Tab");
    const name = await tab.evaluate(() => {
      const here = document.activeElement;
      return here === document.body ? null : `${here.closest("svg")?.id ?? ""} ${here.tagName} ${here.dataset.find ?? here.dataset.map ?? ""}`;
    });
    if (name) reached.add(name);
  }
  for (const wanted of ["map g", "timeline g", " BUTTON in"]) {
    assert.ok([...reached].some((name) => name.startsWith(wanted)), `${wanted} is reached by key`);
  }
}

async function byFinger(browser) {
  const [tab, seen] = await opened(browser, { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
  await tab.locator("#map .choice").last().tap();
  assert.equal(await shownCards(tab), 1, "a tap shows one card");
  const [wide, screen] = await tab.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
  assert.ok(wide <= screen, `nothing hangs over the edge of a phone: ${wide} > ${screen}`);
  await tab.close();
  return seen.complaints;
}

async function withoutProgram(browser) {
  const [tab] = await opened(browser, { javaScriptEnabled: false });
  const cards = await tab.locator(".card").count();
  assert.equal(await shownCards(tab), cards, "without a program every card is shown");
  await tab.close();
}

(async () => {
  const browser = await launched();
  const [tab, seen] = await opened(browser, { viewport: { width: 1200, height: 900 } });
  const reported = { cards: await tab.locator(".card").count(), pins: await tab.locator("#map .choice").count() };
  await byHand(tab);
  await sorted(tab);
  await byKey(tab);
  reported.complaints = [...seen.complaints, ...await byFinger(browser)];
  reported.requests = seen.requests;
  reported.title = await tab.title();
  await withoutProgram(browser);
  await tab.pdf({ path: pdf, format: "A4" });
  reported.violations = await faults(tab);
  await browser.close();
  console.log(JSON.stringify(reported));
})().catch((error) => { console.error(error); process.exit(1); });
