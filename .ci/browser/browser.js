// Opens pages from their files in Debian's Chromium, without a network, and writes down what they ask for.

import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const EXECUTABLE = process.env.CHROMIUM ?? "/usr/bin/chromium";

const OPTIONS = [
  "--headless",
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

/** A browser with a new and empty profile; `close` also removes the profile. */
export async function startBrowser() {
  const profile = await mkdtemp(join(tmpdir(), "panelwright-browser-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: EXECUTABLE,
    headless: true,
    args: OPTIONS,
    viewport: { width: 1280, height: 900 },
    // Nothing of a page is to need the network; whatever is asked for fails and is told.
    offline: true,
  });
  return {
    context,
    version: () => context.browser()?.version() ?? "",
    async close() {
      await context.close();
      await rm(profile, { recursive: true, force: true });
    },
  };
}

/**
 * Opens a file. `faults` fills up with what the page complains about and with every request for anything but
 * the file itself, as long as it is open.
 */
export async function openFile(browser, file) {
  const page = await browser.context.newPage();
  const url = pathToFileURL(file).href;
  const faults = [];
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) {
      faults.push(`console ${message.type()}: ${message.text()}`);
    }
  });
  page.on("pageerror", (error) => faults.push(`script error: ${error.message}`));
  page.on("request", (request) => {
    const asked = request.url();
    if (asked.split("#")[0] !== url && !asked.startsWith("data:") && !asked.startsWith("blob:")) {
      faults.push(`asks for ${asked}`);
    }
  });
  await page.route(/^(https?|wss?|ftp):/, (route) => route.abort());
  await page.goto(url, { waitUntil: "load" });
  return { page, faults, url };
}
