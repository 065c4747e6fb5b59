// Opens the page of a year in the system's Chromium, uses it, and prints what was seen as JSON.
"use strict";
const assert = require("node:assert");
const { faults, launched, opened } = require("./browser.cjs");

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
  reported.complaints = [...seen.complaints, ...alone.complaints];
  reported.requests = seen.requests;
  reported.words = await tab.evaluate(() => document.body.innerText);
  await tab.pdf({ path: pdf, format: "A4" });
  reported.violations = await faults(tab);
  await browser.close();
  console.log(JSON.stringify(reported));
})().catch((error) => { console.error(error); process.exit(1); });
