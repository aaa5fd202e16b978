// What a page does: links, keyboard, search, tick boxes. Each function returns faults as texts.

import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";

/** Every link within the page has its target, and no name is there twice. */
export function findDeadLinks() {
  const faults = [];
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  for (const id of new Set(ids.filter((id, i) => ids.indexOf(id) !== i))) faults.push(`the name ${id} is there twice`);
  for (const link of document.querySelectorAll("a[href]")) {
    const to = link.getAttribute("href");
    if (/^[a-z][a-z+.-]*:|^\//i.test(to)) faults.push(`the link '${link.textContent.trim()}' leads out of the page: ${to}`);
    else if (to.startsWith("#") && to.length > 1 && !document.getElementById(decodeURIComponent(to.slice(1)))) faults.push(`${to} leads nowhere`);
  }
  for (const element of document.querySelectorAll("[aria-labelledby], [aria-describedby], [aria-controls], label[for]")) {
    for (const name of ["aria-labelledby", "aria-describedby", "aria-controls", "for"]) {
      for (const id of (element.getAttribute(name) ?? "").split(/\s+/).filter(Boolean)) {
        if (!document.getElementById(id)) faults.push(`${name} names ${id}, which is not there`);
      }
    }
  }
  return faults;
}

/** What lies beside the page and is linked to is there. */
export async function checkFilesBeside(page) {
  const links = await page.locator("a[href]:not([href^='#'])").evaluateAll((all) => all.map((a) => a.href.split("#")[0]));
  const lost = links.filter((l) => l.startsWith("file:") && !existsSync(fileURLToPath(l)));
  return lost.map((l) => `${l.split("/").slice(-2).join("/")} is not there`);
}

/** Going through the page with the Tab key: each stop is seen, and is seen to be the one. */
export async function checkKeyboard(page, stops = 25) {
  const faults = [];
  await page.evaluate(() => {
    document.activeElement?.blur();
    scrollTo(0, 0);
  });
  const reached = new Set();
  for (let i = 0; i < stops; i += 1) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const e = document.activeElement;
      if (!e || e === document.body) return null;
      const s = getComputedStyle(e);
      const r = e.getBoundingClientRect();
      const marked = (s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 1) || s.boxShadow !== "none";
      const seen = r.width > 0 && r.height > 0 && r.bottom > 0 && r.top < innerHeight && r.right > 0 && r.left < innerWidth;
      return { what: `${e.tagName.toLowerCase()} '${(e.textContent || e.getAttribute("aria-label") || e.id).trim().slice(0, 30)}'`, marked, seen };
    });
    if (!at) break;
    reached.add(at.what);
    if (!at.marked) faults.push(`${at.what} has the keyboard and does not show it`);
    if (!at.seen) faults.push(`${at.what} has the keyboard and is not on the screen`);
  }
  const reachable = await page.evaluate(() => document.querySelectorAll("a[href], button, input, select, summary").length);
  if (reachable > 0 && reached.size === 0) faults.push("the Tab key reaches nothing");
  return faults;
}

/** Part names of the lists below the drawings, with the number of sheets that each is on. */
function partsOfSheets() {
  const counts = {};
  for (const sheet of document.querySelectorAll("section.sheet")) {
    const names = new Set([...sheet.querySelectorAll(".parts tbody tr")].map((row) => row.querySelector(".w")?.textContent.trim()));
    for (const name of names) if (name) counts[name] = (counts[name] ?? 0) + 1;
  }
  return counts;
}

/** The sheets that a page shows or links to after a search, and what it tells a screen reader. */
function searchState() {
  const seen = (e) => e.checkVisibility({ visibilityProperty: true });
  const live = [...document.querySelectorAll("[aria-live]:not([aria-live=off]), [role=status]")].map((e) => e.textContent.trim()).filter(Boolean);
  const marked = [...document.querySelectorAll("mark, .hit, [data-hit]")].filter(seen).length;
  return {
    live: live.join(" "),
    marked,
    visible: [...document.querySelectorAll("section.sheet")].filter(seen).map((s) => s.id),
    results: [...document.querySelectorAll("[aria-live] a, [role=status] a, .results a, #results a, [id*=found] a")].filter(seen).map((a) => a.getAttribute("href")),
    rows: [...document.querySelectorAll("tr, li")].filter(seen).map((r) => r.textContent).join("\n"),
  };
}

/** The search: a part is found on its sheets, what is nowhere is said to be nowhere, and it can be cleared. */
export async function checkSearch(page) {
  const faults = [];
  const field = page.locator("input[type=search]").first();
  const counts = await page.evaluate(partsOfSheets);
  const names = Object.keys(counts).sort((a, b) => counts[a] - counts[b] || a.localeCompare(b));
  if (names.length === 0) return ["no part names to search for"];
  const wait = () => page.waitForTimeout(350);
  const before = await page.evaluate(searchState);
  const rare = names[0];
  for (const term of new Set([rare, rare.toUpperCase(), names[names.length - 1]])) {
    await field.fill(term);
    await wait();
    const state = await page.evaluate(searchState);
    if (!/\d/.test(state.live) || state.live === before.live) {
      faults.push(`search for '${term}': no number is announced ('${state.live}')`);
    }
    if (!state.rows.toLowerCase().includes(term.toLowerCase())) faults.push(`search for '${term}': no row shows it`);
    const same = state.visible.length === before.visible.length && state.marked === 0 && state.results.length === 0;
    const allHaveIt = (counts[term] ?? 0) >= before.visible.length;
    if (same && !allHaveIt && state.rows === before.rows) faults.push(`search for '${term}': nothing is left out, marked or linked`);
  }
  await field.fill("no such part as zzqx");
  await wait();
  const none = await page.evaluate(searchState);
  if (none.live === "" || none.live === before.live) faults.push("search for what is nowhere: nothing is announced");
  if (none.marked > 0 || none.results.length > 0) faults.push("search for what is nowhere: something is found");
  await field.fill("");
  await wait();
  const after = await page.evaluate(searchState);
  if (after.visible.join() !== before.visible.join() || after.marked > 0) faults.push("the cleared search does not show everything again");
  return faults;
}

const ticked = (page) => page.locator("input[type=checkbox]").evaluateAll((all) => all.map((b) => b.checked));

/** Tick boxes: what is ticked stays so when the page is loaded again and opened anew; what is unticked too. */
export async function checkTicks(page, browser, url) {
  const boxes = page.locator("input[type=checkbox]");
  const count = await boxes.count();
  const faults = [];
  const chosen = [...new Set([0, Math.floor(count / 2), count - 1])];
  const start = await ticked(page);
  if (start.some(Boolean)) faults.push("a new page has ticks");
  // By the keyboard, as someone without a mouse would.
  for (const i of chosen) await boxes.nth(i).press("Space");
  const expected = start.map((_, i) => chosen.includes(i));
  if ((await ticked(page)).join() !== expected.join()) faults.push("the space bar does not tick");
  await page.reload({ waitUntil: "load" });
  if ((await ticked(page)).join() !== expected.join()) faults.push("ticks are lost when the page is loaded again");
  await page.close();
  const anew = await browser.context.newPage();
  await anew.goto(url, { waitUntil: "load" });
  if ((await ticked(anew)).join() !== expected.join()) faults.push("ticks are lost when the page is opened anew");
  const again = anew.locator("input[type=checkbox]");
  for (const i of chosen) await again.nth(i).press("Space");
  await anew.reload({ waitUntil: "load" });
  if ((await ticked(anew)).some(Boolean)) faults.push("unticked boxes are ticked again when the page is loaded again");
  await anew.close();
  return faults;
}

/** Sheet and part lead to each other: every sheet's list of parts has links, and what they lead to links back. */
export function findOneWayLinks() {
  const faults = [];
  const target = (a) => document.getElementById(decodeURIComponent(a.getAttribute("href").slice(1)));
  for (const sheet of document.querySelectorAll("section.sheet")) {
    const rows = [...sheet.querySelectorAll(".parts tbody tr")];
    for (const row of rows) {
      const links = [...row.querySelectorAll("a[href^='#']")];
      const back = links.some((a) => {
        const place = target(a);
        const entry = place?.closest("tr, li, article, section") ?? place;
        return entry && [...entry.querySelectorAll("a[href^='#']")].some((b) => {
          const there = target(b);
          return there && (there === sheet || sheet.contains(there));
        });
      });
      if (!back) {
        faults.push(`${sheet.id}: the row '${row.textContent.trim().replace(/\s+/g, " ").slice(0, 40)}' and its part do not lead to each other`);
        break;
      }
    }
  }
  return faults;
}
