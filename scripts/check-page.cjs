"use strict";
// What scripts/check-page does, in the browser. Standards: WCAG 2.1 A and AA as axe-core
// checks them.
const fs = require("fs");
const path = require("path");
const { pathToFileURL } = require("url");
const puppeteer = require("puppeteer-core");
const axe = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const [named, pictures] = process.argv.slice(2);
// A page by itself, or that of a session with its film.
const alone = named.endsWith(".html");
const file = alone ? path.resolve(named) : path.resolve(named, "report.html");
const film = path.resolve(path.dirname(file), "annotated.mp4");
const SIZES = { phone: [360, 740], laptop: [1366, 768] };
const faults = [];
const fault = (text) => faults.push(text);

async function open(browser, [width, height], scheme) {
  const page = await browser.newPage();
  await page.setViewport({ width, height });
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
  const allowed = new Set([pathToFileURL(file).href, pathToFileURL(film).href]);
  page.on("request", (request) => {
    const url = request.url();
    if (!allowed.has(url) && !url.startsWith("data:")) fault(`a request for ${url}`);
  });
  page.on("console", (said) => {
    if (said.type() === "error") fault(`the browser complains: ${said.text()}`);
  });
  page.on("pageerror", (error) => fault(`the script fails: ${error.message}`));
  await page.goto(pathToFileURL(file).href, { waitUntil: "load" });
  return page;
}

async function accessible(page, name) {
  // The page's own policy would refuse the checker; it enters past it.
  const client = await page.createCDPSession();
  await client.send("Runtime.evaluate", { expression: axe });
  const { violations } = await page.evaluate(() => window.axe.run(document));
  for (const found of violations) {
    const where = found.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(", ");
    const line = `${name}: ${found.impact}: ${found.help} (${where})`;
    if (["serious", "critical"].includes(found.impact)) fault(line);
    else console.log(line);
  }
}

async function nothingSticksOut(page, name) {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  if (wide > 1) fault(`${name}: the page is ${wide} px wider than the window`);
}

async function playsReps(page) {
  const buttons = await page.$$("button[data-rep]");
  const reps = await page.$$(".rep");
  if (!fs.existsSync(film)) {
    if (buttons.length) fault("there are buttons to play a film that is not there");
    return;
  }
  if (buttons.length !== reps.length) fault(`${buttons.length} buttons for ${reps.length} reps`);
  await page.waitForFunction(() => document.getElementById("video").readyState >= 1, { timeout: 20000 });
  const last = buttons.length - 1;
  for (const [which, act] of [[last, "mouse"], [0, "keyboard"]]) {
    const button = buttons[which];
    const from = Number(await button.evaluate((b) => b.dataset.from));
    if (act === "mouse") await button.click();
    else {
      await button.focus();
      await page.keyboard.press("Enter");
    }
    await new Promise((done) => setTimeout(done, 1500));
    const [at, said, rep] = await page.evaluate((b) => [
      document.getElementById("video").currentTime,
      document.getElementById("now").textContent,
      b.dataset.rep,
    ], button);
    console.log(`rep ${rep} by ${act}: the film is at ${at.toFixed(2)} s, the rep begins at ${from.toFixed(2)} s`);
    if (at < from - 0.05 || at > from + 4) fault(`rep ${rep} by ${act} does not move the film`);
    if (!said.includes(rep)) fault(`rep ${rep} by ${act} is not said aloud`);
  }
}

(async () => {
  const browser = await puppeteer.launch({
    executablePath: process.env.CHROMIUM,
    args: ["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required"],
  });
  try {
    const size = fs.statSync(file).size;
    console.log(`${path.basename(file)}: ${(size / 1e6).toFixed(2)} MB`);
    if (size > 3e6) fault("the page is larger than 3 MB");
    if (pictures) fs.mkdirSync(pictures, { recursive: true });
    for (const [name, dimensions] of Object.entries(SIZES)) {
      for (const scheme of ["light", "dark"]) {
        const page = await open(browser, dimensions, scheme);
        const title = `${name}-${scheme}`;
        await nothingSticksOut(page, title);
        await accessible(page, title);
        if (scheme === "light" && !alone) await playsReps(page);
        if (pictures) {
          await page.evaluate(() => scrollTo(0, 0));
          await page.screenshot({ path: path.join(pictures, `${title}-top.png`) });
          await page.screenshot({ path: path.join(pictures, `${title}.png`), fullPage: true });
        }
        await page.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
        await nothingSticksOut(page, `${title}, unfolded`);
        await accessible(page, `${title}, unfolded`);
        await page.close();
      }
    }
    if (pictures) {
      const page = await open(browser, SIZES.laptop, "light");
      await page.pdf({ path: path.join(pictures, "print.pdf"), preferCSSPageSize: true, printBackground: true });
    }
  } finally {
    await browser.close();
  }
  for (const text of new Set(faults)) console.error(`check-page: ${text}`);
  if (faults.length === 0) console.log("check-page: no fault found");
  process.exitCode = faults.length === 0 ? 0 : 1;
})();
