// Takes a picture of a page as a browser shows it: node screen.cjs PAGE PICTURE WIDTH HEIGHT [dark|paper] [PART]
// PART is an element to begin at; "paper" prints the page to A4 and writes PICTURE as a PDF.
"use strict";
const fs = require("node:fs");
const { chromium } = require("playwright-core");

const [page, picture, width, height, how, part] = process.argv.slice(2);
const path = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((one) => fs.existsSync(one));

(async () => {
  const browser = await chromium.launch({ executablePath: path, args: ["--no-sandbox"] });
  const viewport = { width: Number(width), height: Number(height) };
  const tab = await browser.newPage({ viewport, colorScheme: how === "dark" ? "dark" : "light", reducedMotion: "reduce" });
  await tab.goto(`file://${page}`);
  await tab.waitForTimeout(500);
  if (part) await tab.evaluate((part) => document.querySelector(part).scrollIntoView({ block: "start", behavior: "instant" }), part);
  await tab.waitForTimeout(300);
  if (how === "paper") await tab.pdf({ path: picture, format: "A4", preferCSSPageSize: true });
  else await tab.screenshot({ path: picture });
  await browser.close();
})().catch((error) => { console.error(error); process.exit(1); });
