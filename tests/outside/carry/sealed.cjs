// Opens the encrypted part of a page in Chromium: `sealed.cjs PAGE PASSPHRASE`. Prints what is shown before and
// after as JSON.
"use strict";
const { launched } = require("../browser.cjs");

const [page, passphrase] = process.argv.slice(2);

(async () => {
  const browser = await launched();
  const tab = await browser.newPage({ viewport: { width: 390, height: 844 } });
  const asked = [];
  tab.on("request", (request) => asked.push(request.url()));
  await tab.goto(`file://${page}`);
  await tab.waitForSelector("body[data-ready]");
  await tab.click('nav [data-part="map-part"]');
  const tried = async (words) => {
    await tab.fill("#passphrase", words);
    await tab.click("#unlock button");
    await tab.waitForFunction(() => /not open|Opened/.test(document.getElementById("unlocked").textContent), null, { timeout: 60000 });
    return [await tab.textContent("#unlocked"), await tab.innerText("#sites")];
  };
  const before = await tab.innerText("#sites");
  const wrong = await tried(`${passphrase}s`);
  const right = await tried(passphrase);
  await browser.close();
  console.log(JSON.stringify({ before, wrong, right, asked: asked.length }));
})().catch((error) => { console.error(error); process.exit(1); });
