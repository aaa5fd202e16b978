// Prints a page to PDF on both sizes of paper and writes down what has to be on it; `.ci/printed_pages.py` reads the PDFs.

import { writeFile } from "node:fs/promises";
import { join } from "node:path";

/** Paper sizes, millimetres (ISO 216; ANSI/ASME Y14.1 size A). */
export const PAPERS = { A4: [210, 297], Letter: [215.9, 279.4] };

/**
 * All that is printed: each text as a whole, and those of each sheet. The steps at the saw may take pages of their own after the
 * drawing and its lists.
 */
function printedTexts() {
  const halo = { letters: 0 };
  const texts = (root, wanted = () => true) => {
    const found = [];
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      const e = node.parentElement;
      if (!node.data.trim() || e.closest("script, style, title, desc, template, noscript, defs, option")) continue;
      if (!wanted(e)) continue;
      if (!e.checkVisibility({ visibilityProperty: true })) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      const box = range.getBoundingClientRect();
      // What stands outside the page is for screen readers and keyboards.
      if (box.width < 1.5 || box.height < 1.5 || box.right <= 0) continue;
      // Letters with a halo are printed as shapes, as text, or as both.
      if (e.closest("svg") && getComputedStyle(e).stroke !== "none") {
        halo.letters += node.data.trim().length;
        continue;
      }
      const shown = getComputedStyle(e).textTransform === "uppercase" ? node.data.toUpperCase() : node.data;
      found.push(shown.replace(/\s+/g, " ").trim());
    }
    return found;
  };
  const sheets = [...document.querySelectorAll("section.sheet")];
  const sorted = (sheet) => {
    const list = sheet.querySelector("ol.steps");
    const heads = list ? [...sheet.querySelectorAll("h3")].filter((h) => h.compareDocumentPosition(list) & Node.DOCUMENT_POSITION_FOLLOWING) : [];
    const from = heads.pop() ?? list;
    const isStep = (e) => from && (from.contains(e) || Boolean(from.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING));
    halo.letters = 0;
    const drawing = texts(sheet, (e) => !isStep(e));
    return { id: sheet.id, drawing, steps: texts(sheet, isStep), haloed: halo.letters };
  };
  return { all: texts(document.body), sheets: sheets.map(sorted) };
}

/** Writes NAME-A4.pdf, NAME-Letter.pdf and NAME.json to the folder. */
export async function printPage(page, name, folder) {
  await page.emulateMedia({ media: "print", colorScheme: "light" });
  const expected = await page.evaluate(printedTexts);
  await writeFile(join(folder, `${name}.json`), JSON.stringify(expected));
  await page.emulateMedia({ media: null, colorScheme: null });
  for (const paper of Object.keys(PAPERS)) {
    await page.pdf({ path: join(folder, `${name}-${paper}.pdf`), format: paper, printBackground: true });
  }
}
