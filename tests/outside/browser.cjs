// What the checks of pages have in common: a page in Chromium with everything that it complains of or asks
// for, and the faults that an accessibility checker (axe) finds in it.
"use strict";
const fs = require("node:fs");
const { chromium } = require("playwright-core");

const path = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((one) => fs.existsSync(one));

exports.launched = (...more) => chromium.launch({ executablePath: path, args: ["--no-sandbox", ...more] });

// A browser whose reader has set letters to double size.
exports.launchedWithLargeText = () => exports.launched("--blink-settings=defaultFontSize=32,defaultFixedFontSize=26");

exports.opened = async (browser, page, options) => {
  const tab = await (await browser.newContext(options)).newPage();
  const seen = { complaints: [], requests: 0 };
  tab.on("console", (message) => seen.complaints.push(message.text()));
  tab.on("pageerror", (error) => seen.complaints.push(String(error)));
  tab.on("dialog", (dialog) => { seen.complaints.push("a dialog"); dialog.dismiss(); });
  tab.on("request", (request) => { if (!request.url().startsWith("data:")) seen.requests += 1; });
  await tab.goto(`file://${page}`);
  return [tab, seen];
};

exports.faults = async (tab) => {
  // the checker is our own test's program, which the page's policy rightly refuses as an element
  await tab.evaluate(fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8"));
  const result = await tab.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  return result.violations.map(({ id, help, nodes }) => ({ id, help, first: nodes[0].html.slice(0, 160), count: nodes.length }));
};

// Texts that lie on other texts, or beyond a box that cuts them. What scrolls may hold more than it shows; bars that
// stay on the screen while the page moves lie on it.
exports.misplacedTexts = (tab) => tab.evaluate(() => {
  const seen = [], found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const { data, parentElement: element } = walker.currentNode;
    if (!data.trim() || element.closest("noscript, script, style, select, .rim, title, desc") || !element.checkVisibility({ visibilityProperty: true })) continue;
    const parents = [];
    for (let up = element; up; up = up.parentElement) parents.push(up);
    if (parents.some((one) => getComputedStyle(one).position === "fixed")) continue;
    const range = document.createRange();
    range.selectNodeContents(walker.currentNode);
    // what an enlarged map has moved off its frame is not seen
    const frame = element.ownerSVGElement?.getBoundingClientRect();
    const off = (box) => frame && (box.right <= frame.left || box.left >= frame.right || box.bottom <= frame.top || box.top >= frame.bottom);
    for (const box of range.getClientRects()) if (box.width > 1 && box.height > 1 && !off(box)) seen.push({ words: data.trim().slice(0, 40), element, parents, box });
  }
  for (const { words, parents, box } of seen) {
    for (const parent of parents) {
      const overflow = getComputedStyle(parent).overflowX, frame = parent.getBoundingClientRect();
      if (["auto", "scroll"].includes(overflow) && parent.scrollWidth > parent.clientWidth) break;
      // a part of a drawing and a run of text are as large as their letters
      if (parent.ownerSVGElement || getComputedStyle(parent).display === "inline") continue;
      if (box.left < frame.left - 1.5 || box.right > frame.right + 1.5) {
        found.push(`"${words}" is cut or stands out of ${parent.tagName}: ${Math.round(box.left)} to ${Math.round(box.right)}, not ${Math.round(frame.left)} to ${Math.round(frame.right)}`);
        break;
      }
    }
  }
  for (const [place, one] of seen.entries()) {
    for (const other of seen.slice(place + 1)) {
      if (one.element === other.element) continue;
      const wide = Math.min(one.box.right, other.box.right) - Math.max(one.box.left, other.box.left);
      const high = Math.min(one.box.bottom, other.box.bottom) - Math.max(one.box.top, other.box.top);
      // the boxes of lines are higher than their letters
      if (wide > 2 && high > 0.3 * Math.min(one.box.height, other.box.height)) found.push(`"${one.words}" lies on "${other.words}"`);
    }
  }
  return { seen: seen.length, found: found.slice(0, 20) };
});
