// Opens pages in a real Chromium, 360 px wide, light and dark, and tells what axe-core finds and how wide they are.
const fs = require("fs");
const told = JSON.parse(fs.readFileSync(0, "utf8"));
const puppeteer = require(told.puppeteer);
const axe = fs.readFileSync(told.axe, "utf8");
const flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync"];
(async () => {
  const browser = await (puppeteer.default || puppeteer).launch({ executablePath: told.browser, args: flags });
  const found = [];
  for (const path of told.pages) {
    for (const scheme of ["light", "dark"]) {
      const page = await browser.newPage();
      await page.setBypassCSP(true);
      await page.setViewport({ width: 360, height: 740 });
      await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
      await page.goto("file://" + path);
      await page.evaluate(axe);
      const faults = await page.evaluate(async () => (await axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }))
        .violations.map((one) => one.id + ": " + one.nodes.map((node) => node.html.slice(0, 80)).join(" | ")));
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      found.push({ path, scheme, faults, wide });
      await page.close();
    }
  }
  await browser.close();
  process.stdout.write(JSON.stringify(found));
})().catch((error) => { console.error(error); process.exit(1); });
