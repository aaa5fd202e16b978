// Breaks a page in every way that the checks look for; each has to be noticed, or the checks are worth nothing.
//
//   node broken_pages.js PAGE.html

import { checkFilesBeside, checkKeyboard, checkSearch, checkTicks, findDeadLinks, findOneWayLinks } from "./behaviour.js";
import { openFile, startBrowser } from "./browser.js";
import { findCutOff, findLabelOverlaps, findLowContrast, findTextOverlaps } from "./looks.js";

const contrast = (page) => page.evaluate(findLowContrast, 4.5);
const on = (find) => (page) => page.evaluate(find);

/** What is done to the page, and the check that has to notice it. */
const CASES = [
  ["grey text", () => (document.querySelector("p").style.cssText = "color: #999; background: #fff"), contrast],
  ["a see-through text", () => (document.querySelector("h2").style.opacity = "0.4"), contrast],
  ["text of a drawing in the colour of its part", () => {
    const text = [...document.querySelectorAll("svg text")].find((t) => getComputedStyle(t).stroke === "none");
    text.style.fill = "#b0c4b8";
  }, contrast],
  ["a pale halo behind pale letters", () => (document.querySelector("svg text").style.cssText = "fill: #ccc; stroke: #fff; stroke-width: .3em; paint-order: stroke"), contrast],
  ["two labels at one place", () => {
    const text = document.querySelector("svg.drawing text");
    text.after(text.cloneNode(true));
  }, on(findLabelOverlaps)],
  ["a turned label across another", () => {
    const text = [...document.querySelectorAll("svg.drawing text")].find((t) => t.getBBox().width > 2 * t.getBBox().height);
    const copy = text.cloneNode(true);
    const b = text.getBBox();
    copy.setAttribute("transform", `rotate(30 ${b.x + b.width / 2} ${b.y + b.height / 2})`);
    text.parentNode.append(copy);
  }, on(findLabelOverlaps)],
  ["a label beyond the frame", () => document.querySelector("svg.drawing text").setAttribute("transform", "translate(-99999 0)"), on(findLabelOverlaps)],
  ["lines on each other", () => (document.querySelector("#cautions li + li").style.marginTop = "-1.3em"), on(findTextOverlaps)],
  ["a page wider than the window", () => (document.querySelector("main").style.minWidth = "3000px"), on(findCutOff)],
  ["a box that hides the end of its text", () => (document.querySelector("h1").style.cssText = "width: 2em; overflow: hidden; white-space: nowrap"), on(findCutOff)],
  ["a list beside another that hides its last column", () => {
    const list = document.querySelector("section.sheet .parts");
    list.after(list.cloneNode(true));
    for (const e of [list, list.nextElementSibling]) e.style.flex = "0 0 15rem";
  }, on(findCutOff)],
  ["a link to nowhere", () => document.querySelector("a[href^='#']").setAttribute("href", "#nowhere"), on(findDeadLinks)],
  ["a link to elsewhere", () => document.querySelector("a[href^='#']").setAttribute("href", "https://example.invalid/"), on(findDeadLinks)],
  ["a link to a file that is not there", () => document.querySelector("a[href^='#']").setAttribute("href", "other.html"), checkFilesBeside],
  ["a name twice", () => (document.querySelectorAll("h2")[1].id = document.querySelector("h2").id), on(findDeadLinks)],
  ["a part that does not lead back to a sheet", () => {
    const to = document.querySelector("section.sheet .parts a").getAttribute("href").slice(1);
    document.getElementById(to).querySelectorAll("a").forEach((a) => a.remove());
  }, on(findOneWayLinks)],
  ["a search that finds nothing", () => {
    const field = document.querySelector("input[type=search]");
    field.replaceWith(field.cloneNode(true));
  }, checkSearch],
  ["a keyboard that is not seen", () => document.head.append(Object.assign(document.createElement("style"), { textContent: "* { outline: none !important; box-shadow: none !important }" })), (page) => checkKeyboard(page)],
  ["an error on the console", () => console.error("lost"), (_, heard) => heard],
  ["a picture from elsewhere", () => (document.body.append(Object.assign(new Image(), { src: "https://example.invalid/a.png" }))), (_, heard) => heard],
  ["a file beside the page", () => (document.body.append(Object.assign(new Image(), { src: "beside.png" }))), (_, heard) => heard],
];

const browser = await startBrowser();
let unseen = 0;
try {
  const { page, faults, url } = await openFile(browser, process.argv[2]);
  for (const [what, spoil, check] of CASES) {
    await page.goto(url, { waitUntil: "load" });
    const before = (await check(page, faults)).length;
    await page.evaluate(spoil);
    await page.waitForTimeout(50);
    if ((await check(page, faults)).length <= before) {
      console.log(`  not noticed: ${what}`);
      unseen += 1;
    }
  }
  await page.goto(url, { waitUntil: "load" });
  await page.evaluate(() => (Storage.prototype.setItem = () => {}));
  if ((await checkTicks(page, browser, url)).length === 0) {
    console.log("  not noticed: ticks that are not kept");
    unseen += 1;
  }
} finally {
  await browser.close();
}
console.log(`${CASES.length + 1} ways to break a page, ${unseen} not noticed`);
process.exit(unseen === 0 ? 0 : 1);
