// Reads the site in Firefox as a reader does, and prints what went wrong, one line of JSON for each path.
// node firefox.mjs FIREFOX PUPPETEER BASE, with the reading paths as JSON on standard input
import { readFileSync } from "node:fs";

const [firefox, puppeteerAt, base] = process.argv.slice(2);
const { default: puppeteer } = await import(puppeteerAt);

const browser = await puppeteer.launch({
  browser: "firefox",
  executablePath: firefox,
  // as on a phone, bars take no room
  extraPrefsFirefox: { "widget.gtk.overlay-scrollbars.enabled": true },
});

const widths = [1280, 360, 320];

// what can be done on a page, by name
const steps = {
  go: (page, path) => page.goto(base + path, { waitUntil: "load" }),
  press: (page, selector) => page.locator(selector).click(),
  follow: (page, selector) =>
    Promise.all([page.waitForNavigation(), page.locator(selector).click()]),
  fill: (page, selector, text) => page.locator(selector).fill(text),
  type: async (page, selector, text) => {
    await page.locator(selector).click();
    await page.keyboard.type(text);
  },
  run: (page, script) => page.evaluate(script),
  see: (page, selector) => page.waitForSelector(selector, { visible: true, timeout: 10000 }),
  inView: async (page, selector) => {
    const box = await (await page.waitForSelector(selector)).boundingBox();
    const height = await page.evaluate(() => innerHeight);
    if (!box || box.y < 0 || box.y > height) throw new Error(`${selector} is at ${box?.y}`);
  },
  print: (page, path) => page.pdf({ path, format: "A4", landscape: true }),
  atEveryWidth: async (page) => {
    for (const width of widths) {
      await page.setViewport({ width, height: 740 });
      const found = await page.evaluate(() => document.documentElement.scrollWidth);
      if (found > width) throw new Error(`${found} px wide on a screen of ${width}`);
    }
  },
};

for (const [name, path] of Object.entries(JSON.parse(readFileSync(0, "utf8")))) {
  const context = await browser.createBrowserContext();
  const page = await context.newPage();
  await page.setViewport({ width: 360, height: 740 });
  const faults = [];
  page.on("pageerror", (error) => faults.push(`error: ${error.message}`));
  page.on("console", (said) => {
    if (said.type() === "error") faults.push(`console: ${said.text()}`);
  });
  for (const [step, ...given] of path) {
    try {
      await steps[step](page, ...given);
    } catch (error) {
      faults.push(`${step} ${given.join(" ")}: ${error.message}`);
      break;
    }
  }
  // what was thrown behind the last step arrives before this is answered
  await page.evaluate(() => new Promise((done) => setTimeout(done)));
  console.log(JSON.stringify({ name, ended: page.url(), faults }));
  await context.close();
}
await browser.close();
