// Opens the page of a year in the system's Chromium, uses it, and prints what was seen as JSON.
"use strict";
const assert = require("node:assert");
const { faults, launched, launchedWithLargeText, misplacedTexts, opened } = require("./browser.cjs");

const [page, pdf] = process.argv.slice(2);

// The values of a column, as the table sorts them.
const column = (table, place) => table.locator(`tbody tr > :nth-child(${place + 1})`).evaluateAll((cells) =>
  cells.map((cell) => (cell.dataset.value === undefined ? Infinity : Number(cell.dataset.value))));

async function sorted(tab) {
  const tables = await tab.locator("table.sorts").all();
  for (const table of tables) {
    const headings = await table.locator("thead th").all();
    for (const [place, heading] of headings.entries()) {
      if (await heading.getAttribute("data-kind") !== "number") continue;
      await heading.locator("button").click();
      const up = await column(table, place);
      assert.deepEqual(up, [...up].sort((a, b) => a - b), "sorted upwards");
      await heading.locator("button").focus();
      await tab.keyboard.press("Enter");
      const down = await column(table, place);
      assert.deepEqual(down, [...down].sort((a, b) => b - a), "sorted downwards by key");
    }
    assert.equal(await table.locator("th[aria-sort]").count(), 1);
  }
  return tables.length;
}

(async () => {
  const browser = await launched();
  const [tab, seen] = await opened(browser, page, { viewport: { width: 1200, height: 900 } });
  const reported = { title: await tab.title(), charts: await tab.locator(".chart svg").count() };
  reported.tables = await sorted(tab);
  const identities = await tab.evaluate(() => [...document.querySelectorAll("[id]")].map((one) => one.id));
  assert.equal(new Set(identities).size, identities.length, "every identity is there once");
  const broken = await tab.evaluate(() => [...document.querySelectorAll("nav a")].filter((link) => !document.querySelector(link.getAttribute("href"))).length);
  assert.equal(broken, 0, "every part that is named is there");
  const [phone, alone] = await opened(browser, page, { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
  const [wide, screen] = await phone.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
  assert.ok(wide <= screen, `nothing hangs over the edge of a phone: ${wide} > ${screen}`);
  // the first screen of a phone has the figures of the years, the calendar dots at its left edge
  const first = await phone.evaluate(() => {
    const figures = document.querySelector(".figures").getBoundingClientRect();
    const dots = [...document.querySelectorAll("#calendar-part circle")].map((dot) => dot.getBoundingClientRect().right);
    return { top: figures.top, dot: dots.length ? Math.min(...dots) : 0 };
  });
  assert.ok(first.top < 600 && first.dot < 390, `content is on the first screen: ${JSON.stringify(first)}`);
  for (const [width, text] of [[320, 1], [600, 1], [1440, 1], [1280, 2]]) {
    const [sized] = await opened(browser, page, { viewport: { width, height: 900 } });
    if (text > 1) await sized.evaluate((text) => { document.documentElement.style.fontSize = `${100 * text}%`; }, text);
    const wide = await sized.evaluate(() => document.documentElement.scrollWidth);
    assert.ok(wide <= width, `nothing hangs over the edge of ${width} pixels, text times ${text}: ${wide}`);
    await sized.context().close();
  }
  const doubled = await launchedWithLargeText();
  const [large] = await opened(doubled, page, { viewport: { width: 320, height: 844 } });
  assert.equal((await misplacedTexts(large)).found.join("; "), "", "no text is cut or lies on another with text of double size");
  await doubled.close();
  // the maps follow the theme
  const [night] = await opened(browser, page, { colorScheme: "dark" });
  const bright = await night.evaluate(() => [...document.querySelectorAll("#ground-part svg, #ground-part svg > rect:first-of-type")]
    .map((one) => { const style = getComputedStyle(one); return one.tagName === "svg" ? style.backgroundColor : style.fill; })
    .filter((colour) => colour === "rgb(255, 255, 255)").length);
  assert.equal(bright, 0, "no map is white in the dark theme");
  const themed = [];
  for (const options of [{ colorScheme: "dark" }, { forcedColors: "active" }]) {
    const [other] = await opened(browser, page, options);
    themed.push(...await faults(other));
    await other.context().close();
  }
  reported.complaints = [...seen.complaints, ...alone.complaints];
  reported.requests = seen.requests;
  reported.words = await tab.evaluate(() => document.body.innerText);
  await tab.pdf({ path: pdf, format: "A4" });
  reported.violations = [...await faults(tab), ...themed];
  await browser.close();
  console.log(JSON.stringify(reported));
})().catch((error) => { console.error(error); process.exit(1); });
