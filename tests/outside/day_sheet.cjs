// Opens one page in the system's Chromium, uses it, and prints what was seen as JSON.
"use strict";
const assert = require("node:assert");
const { faults, launched, launchedWithLargeText, misplacedTexts, opened: open } = require("./browser.cjs");

const [page, pdf, one] = process.argv.slice(2);
// the parts below the map are there soon after the page has loaded
const opened = async (browser, options) => {
  const [tab, seen] = await open(browser, page, options);
  if (options.javaScriptEnabled !== false) await tab.waitForFunction(() => !document.querySelector("noscript.later"));
  return [tab, seen];
};
const shownCards = (tab) => tab.locator(".card:visible").count();
const size = (tab) => tab.evaluate(() => {
  const world = document.getElementById("world").getAttribute("transform") || "scale(1)";
  return Number(/scale\(([^)]+)\)/.exec(world)[1]);
});
const phone = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };

// Where the chosen find is, as shares of the map's width and height.
const chosenPlace = (tab) => tab.evaluate(() => {
  const map = document.getElementById("map").getBoundingClientRect();
  const mark = document.querySelector('#map .choice[aria-pressed="true"] path').getBoundingClientRect();
  return [((mark.left + mark.right) / 2 - map.left) / map.width, ((mark.top + mark.bottom) / 2 - map.top) / map.height];
});
const inView = ([x, y]) => x >= 0 && x <= 1 && y >= 0 && y <= 1;

// The middle of a mark on the page.
const middle = (tab, selector, place) => tab.evaluate(([selector, place]) => {
  const marks = [...document.querySelectorAll(selector)], box = marks.at(place).querySelector("path").getBoundingClientRect();
  return [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
}, [selector, place]);

async function byHand(tab) {
  assert.equal(await shownCards(tab), 0, "no card before a choice");
  await tab.locator("#map").scrollIntoViewIfNeeded();
  const [x, y] = await middle(tab, "#map .choice", -1);
  await tab.mouse.click(x + 6, y + 3);
  assert.equal(await shownCards(tab), 1, "a click near a mark shows one card");
  const before = await tab.locator("#scale text:not(.rim)").nth(2).textContent();
  const lines = await tab.locator("#grid-words").textContent();
  for (let step = 0; step < 6; step += 1) {
    await tab.locator('[data-map="in"]').click();
    assert.ok(inView(await chosenPlace(tab)), "the chosen find stays in view");
  }
  assert.ok(await size(tab) > 10, "the map grows");
  assert.notEqual(before, await tab.locator("#scale text:not(.rim)").nth(2).textContent(), "the bar is measured again");
  assert.notEqual(lines, await tab.locator("#grid-words").textContent(), "the grid suits the zoom");
  const box = await tab.locator("#map").boundingBox();
  await tab.keyboard.down("Control");
  await tab.mouse.move(box.x + 20, box.y + 20);
  await tab.mouse.wheel(0, -100);
  await tab.keyboard.up("Control");
  assert.ok(inView(await chosenPlace(tab)), "the chosen find stays in view of the wheel");
  await tab.mouse.move(box.x + 200, box.y + 150);
  await tab.mouse.down();
  await tab.mouse.move(box.x + 120, box.y + 100, { steps: 5 });
  await tab.mouse.up();
  await tab.locator('[data-map="all"]').click();
  assert.equal(await size(tab), 1);
  for (const drawing of ["timeline", "profile"]) {
    await tab.locator(`#${drawing}`).scrollIntoViewIfNeeded();
    const [x, y] = await middle(tab, `#${drawing} .choice`, -1);
    await tab.mouse.click(x, y);
    assert.equal(await shownCards(tab), 1);
    assert.ok(await tab.locator('.choice[aria-pressed="true"]').count() >= 2, "the choice is seen in several parts");
  }
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

async function filtered(tab) {
  const number = await tab.locator("#finds tbody th a").first().textContent();
  const rows = () => tab.locator("#finds tbody tr:visible").count();
  const all = await rows();
  await tab.locator("#filter").fill(number);
  const some = await rows();
  assert.ok(some >= 1 && some < all, `the filter leaves ${some} of ${all}`);
  assert.match(await tab.locator("#matches").textContent(), new RegExp(`^${some} of ${all} finds$`));
  assert.ok(await tab.locator("#map .choice:visible").count() <= some, "the map is filtered too");
  await tab.locator("#filter").fill("nothing has these words");
  assert.equal(await rows(), 0);
  await tab.locator("#filter").fill("");
  assert.equal(await rows(), all);
}

// Everything by the tab key, arrows and Enter: few stops however many finds.
async function byKey(tab) {
  const name = () => tab.evaluate(() => {
    const here = document.activeElement;
    if (here === document.body) return null;
    const part = here.closest("#map, #timeline, #profile, #strip, #finds, .processing");
    return `${part ? part.id || part.className : ""} ${here.tagName} ${here.dataset.find ?? here.dataset.map ?? (here.id || here.getAttribute("aria-label") || here.textContent)}`;
  });
  const reached = new Set();
  for (let step = 0; step < 110; step += 1) {
    await tab.keyboard.press("Tab");
    const here = await name();
    if (here) reached.add(here);
  }
  for (const wanted of ["map g", "timeline g", "profile g", "finds A", "processing A", " BUTTON in", " INPUT filter"]) {
    assert.ok([...reached].some((name) => name.startsWith(wanted)), `${wanted} is reached by key: ${[...reached]}`);
  }
  assert.ok(reached.size < 70, `${reached.size} stops of the tab key`);
  const pin = tab.locator('#map .choice[tabindex="0"]');
  assert.equal(await pin.count(), 1);
  await pin.focus();
  await tab.keyboard.press("Home");
  const first = await name();
  await tab.keyboard.press("ArrowRight");
  assert.notEqual(await name(), first, "an arrow goes to the next find");
  await tab.keyboard.press("Enter");
  assert.equal(await tab.evaluate(() => document.activeElement.getAttribute("aria-pressed")), "true", "Enter chooses");
  await tab.keyboard.press("+");
  assert.ok(await size(tab) > 1, "plus enlarges");
  await tab.keyboard.press("Shift+ArrowLeft");
  await tab.keyboard.press("0");
  assert.equal(await size(tab), 1, "zero shows all");
  await tab.keyboard.press("Escape");
  assert.equal(await shownCards(tab), 0, "Escape ends the choice");
}

async function enlarged(tab) {
  if (!await tab.locator("#strip button").count()) return false;
  await tab.locator("#strip button").first().click();
  await tab.locator(".card:visible .photographs button").first().click();
  assert.ok(await tab.locator("dialog img").isVisible(), "a photograph is enlarged");
  const first = await tab.locator("dialog p").textContent();
  await tab.keyboard.press("ArrowRight");
  assert.notEqual(await tab.locator("dialog p").textContent(), first, "an arrow shows the next one");
  await tab.keyboard.press("Escape");
  assert.ok(!await tab.locator("dialog").isVisible());
  return true;
}

async function byFinger(browser) {
  const [tab, seen] = await opened(browser, phone);
  const map = tab.locator("#map");
  await map.scrollIntoViewIfNeeded();
  const [x, y] = await middle(tab, "#map .choice", -1);
  await tab.touchscreen.tap(x + 14, y + 10);
  assert.equal(await shownCards(tab), 1, "a tap near a mark shows one card");
  const box = await map.boundingBox();
  assert.ok(box.height > 0.55 * 844, `the map is tall on a phone: ${box.height}`);
  assert.ok(!await tab.locator("#finds thead").isVisible(), "the table is a list of cards");
  // two fingers apart
  const cdp = await tab.context().newCDPSession(tab);
  const fingers = (...places) => places.map(([x, y], id) => ({ x, y, id }));
  const [cx, cy] = [box.x + box.width / 2, box.y + box.height / 2];
  const touch = (type, touchPoints) => cdp.send("Input.dispatchTouchEvent", { type, touchPoints });
  const scrolled = () => tab.evaluate(() => window.scrollY);
  const before = await scrolled();
  await touch("touchStart", fingers([cx - 20, cy], [cx + 20, cy]));
  for (const by of [30, 45, 60, 80]) await touch("touchMove", fingers([cx - by, cy - by / 4], [cx + by, cy + by / 4]));
  await touch("touchEnd", []);
  assert.ok(await size(tab) > 2.5, `two fingers enlarge: ${await size(tab)}`);
  assert.equal(await tab.evaluate(() => window.visualViewport.scale), 1, "the page itself is not enlarged");
  assert.ok(inView(await chosenPlace(tab)), "the chosen find stays in view");
  const position = await tab.evaluate(() => document.getElementById("world").getAttribute("transform"));
  // one finger upwards scrolls the page and leaves the map
  await touch("touchStart", fingers([cx, cy]));
  for (let by = 10; by <= 250; by += 20) await touch("touchMove", fingers([cx, cy - by]));
  await touch("touchEnd", []);
  await tab.waitForTimeout(200);
  assert.ok(await scrolled() > before + 100, "one finger scrolls the page");
  assert.equal(await tab.evaluate(() => document.getElementById("world").getAttribute("transform")), position, "and does not move the map");
  await tab.close();
  return seen.complaints;
}

// Nothing hangs over the edge, at any width and with text of double size.
async function widths(browser) {
  for (const [width, text] of [[320, 1], [360, 1], [430, 1], [600, 1], [768, 1], [992, 1], [1280, 1], [1440, 1], [400, 2], [1280, 2]]) {
    const [tab] = await opened(browser, { viewport: { width, height: 900 } });
    if (text > 1) await tab.evaluate((text) => { document.documentElement.style.fontSize = `${100 * text}%`; }, text);
    await tab.evaluate(() => document.querySelector("#finds tbody a").click());
    const [wide, screen] = await tab.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
    assert.ok(wide <= screen, `nothing hangs over the edge of ${width} pixels, text times ${text}: ${wide} > ${screen}`);
    await tab.context().close();
  }
}

// Letters of double size on the narrowest screen: no text is cut or lies on another, chosen find or not, map whole or
// enlarged.
async function doubled() {
  const browser = await launchedWithLargeText();
  const [tab] = await opened(browser, { viewport: { width: 320, height: 844 }, reducedMotion: "reduce" });
  const states = [
    // all parts are laid out, those off the screen too
    () => { document.getElementById("finds-part").style.contentVisibility = "visible"; },
    () => document.querySelector("#finds tbody a").click(),
    () => document.querySelector('[data-map="in"]').click(),
  ];
  for (const state of states) {
    await tab.evaluate(state);
    await tab.waitForTimeout(300);
    const { seen, found } = await misplacedTexts(tab);
    assert.ok(seen > 50, `${seen} texts`);
    assert.equal(found.join("; "), "", "no text is cut or lies on another at 320 pixels with text of double size");
  }
  await browser.close();
}

async function themes(browser) {
  const found = [];
  for (const options of [{ colorScheme: "dark" }, { forcedColors: "active" }, { forcedColors: "active", colorScheme: "dark" }, phone]) {
    const [tab] = await opened(browser, options);
    await tab.evaluate(() => document.querySelector("#finds tbody a").click());
    found.push(...await faults(tab));
    await tab.context().close();
  }
  return found;
}

async function withoutProgram(browser) {
  const [tab] = await opened(browser, { javaScriptEnabled: false });
  const cards = await tab.locator(".card").count();
  assert.equal(await shownCards(tab), cards, "without a program every card is shown");
  assert.equal(await tab.locator("#finds tbody tr:visible").count(), cards, "and every row of the table");
  assert.ok(await tab.locator("#profile, #timeline").first().isVisible(), "and the walk");
  assert.equal(await tab.locator(".processing li:visible").count(), cards, "and every specimen to process");
  await tab.close();
  return cards;
}

// On a processor slowed six times: milliseconds until the page has loaded, until a choice by key is drawn, and
// until all parts are there; and the processor's own time until the page has loaded, times six, which does not
// grow with what else the machine does.
async function slowed(browser) {
  const tab = await (await browser.newContext({ viewport: { width: 1200, height: 900 } })).newPage();
  const cdp = await tab.context().newCDPSession(tab);
  await cdp.send("Performance.enable", { timeDomain: "threadTicks" });
  await tab.goto(`file://${page}`);
  const { metrics } = await cdp.send("Performance.getMetrics");
  const busy = 6000 * metrics.find(({ name }) => name === "TaskDuration").value;
  await cdp.send("Emulation.setCPUThrottlingRate", { rate: 6 });
  await tab.goto("about:blank");
  await tab.goto(`file://${page}`, { waitUntil: "domcontentloaded" });
  const times = await tab.evaluate(() => new Promise((done) => {
    const loaded = performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd, start = performance.now();
    document.querySelector("#map .choice").dispatchEvent(new KeyboardEvent("keydown", { key: "Enter", bubbles: true }));
    requestAnimationFrame(() => requestAnimationFrame(() => done({ loaded, answered: performance.now() - start })));
  }));
  assert.equal(await shownCards(tab), 1, "the card of the choice is shown");
  await tab.waitForFunction(() => !document.querySelector("noscript.later"), null, { timeout: 60000 });
  times.complete = await tab.evaluate(() => performance.now());
  await tab.context().close();
  return Object.fromEntries(Object.entries({ ...times, busy }).map(([name, time]) => [name, Math.round(time)]));
}

(async () => {
  const browser = await launched();
  const [tab, seen] = await opened(browser, { viewport: { width: 1200, height: 900 } });
  const reported = { pins: await tab.locator("#map .choice").count() };
  await byHand(tab);
  await sorted(tab);
  await filtered(tab);
  await byKey(tab);
  reported.photographs = await enlarged(tab);
  reported.complaints = [...seen.complaints, ...await byFinger(browser)];
  reported.requests = seen.requests;
  reported.title = await tab.title();
  reported.cards = await withoutProgram(browser);
  await widths(browser);
  if (!one) await doubled();
  await tab.pdf({ path: pdf, format: "A4", preferCSSPageSize: true });
  reported.violations = [...await faults(tab), ...one ? [] : await themes(browser)];
  reported.slowed = await slowed(browser);
  await browser.close();
  console.log(JSON.stringify(reported));
})().catch((error) => { console.error(error); process.exit(1); });
