// Opens papers as the people at the machines do and says what is wrong with them.
//
//   node check_pages.js PDF-FOLDER PAGE.html ...
//
// The PDFs are then read by `.ci/printed_pages.py PDF-FOLDER`. Exit code 1 when anything is wrong.

import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { basename } from "node:path";
import { checkFilesBeside, checkKeyboard, checkSearch, checkTicks, findDeadLinks, findOneWayLinks } from "./behaviour.js";
import { openFile, startBrowser } from "./browser.js";
import { WIDTHS, findCutOff, findLabelOverlaps, findLowContrast, findTextOverlaps } from "./looks.js";
import { printPage } from "./printing.js";

/** Least contrast of any text. */
const CONTRAST = 4.5;

/** Most faults of one kind that are printed; the rest is counted. */
const SHOWN = 6;

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** Findings of axe-core that are serious or worse. */
async function axeFaults(page) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  return violations
    .filter((v) => ["serious", "critical"].includes(v.impact))
    .map((v) => `axe ${v.id} (${v.impact}), ${v.nodes.length} places: ${v.help}, as in ${v.nodes[0].html.slice(0, 120)}`);
}

/** Widens the window step by step and looks at each. */
async function looks(page, say) {
  for (const width of WIDTHS) {
    await page.setViewportSize({ width, height: 900 });
    for (const find of [findCutOff, findLabelOverlaps, findTextOverlaps]) say(`${width} px`, await page.evaluate(find));
  }
  await page.setViewportSize({ width: 1280, height: 900 });
}

async function checkPage(browser, file, pdfs) {
  const kind = basename(file, ".html");
  const faults = new Map();
  const say = (about, found) => {
    if (found.length > 0) faults.set(about, [...(faults.get(about) ?? []), ...found]);
  };
  const { page, faults: heard, url } = await openFile(browser, file);
  const sheets = await page.locator("section.sheet").count();
  // A browser lays out what comes into sight; here everything is looked at at once.
  await page.addStyleTag({ content: "* { content-visibility: visible !important }" });
  say("links", await page.evaluate(findDeadLinks));
  say("links", await checkFilesBeside(page));
  await looks(page, say);
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    say(`contrast, ${colorScheme}`, await page.evaluate(findLowContrast, CONTRAST));
    say(`axe, ${colorScheme}`, await axeFaults(page));
  }
  await page.emulateMedia({ colorScheme: null });
  say("keyboard", await checkKeyboard(page));
  await printPage(page, kind, pdfs);
  if (kind === "report") {
    if (sheets === 0) say("sheets", ["there is no sheet"]);
    say("part and sheet", await page.evaluate(findOneWayLinks));
    if ((await page.locator("input[type=search]").count()) === 0) say("search", ["there is no field to search in"]);
    else say("search", await checkSearch(page));
  }
  const boxes = await page.locator("input[type=checkbox]").count();
  if (boxes > 0) say("tick boxes", await checkTicks(page, browser, url));
  else if (kind === "report") say("tick boxes", ["there are none"]);
  say("console and requests", heard);
  console.log(`${basename(file)}: ${sheets} sheets, ${boxes} tick boxes, ${faults.size === 0 ? "sound" : "FAULTY"}`);
  for (const [about, found] of faults) {
    for (const fault of found.slice(0, SHOWN)) console.log(`  ${about}: ${fault}`);
    if (found.length > SHOWN) console.log(`  ${about}: ${found.length - SHOWN} more`);
  }
  return faults.size === 0;
}

const [pdfs, ...files] = process.argv.slice(2);
if (files.length === 0) {
  console.error("usage: node check_pages.js PDF-FOLDER PAGE.html ...");
  process.exit(2);
}
const browser = await startBrowser();
let sound = true;
try {
  for (const file of files) sound = (await checkPage(browser, file, pdfs)) && sound;
} finally {
  await browser.close();
}
process.exit(sound ? 0 : 1);
