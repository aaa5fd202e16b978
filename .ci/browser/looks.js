// What is seen: contrast, labels that overlap, sideways scrolling, text that is cut off. The functions named `find...`
// run in the page and return faults as texts.

/** Widths in pixels: a narrow phone, a tablet, a desk, a screen of 3840 pixels. */
export const WIDTHS = [320, 768, 1280, 3840];

/**
 * Texts whose contrast with what lies behind them is too low.
 *
 * Source: WCAG 2.2, success criterion 1.4.3 (4.5 to 1) and its definitions of contrast ratio and relative luminance. Large text
 * is not let off.
 */
export function findLowContrast(least) {
  const parse = (text) => {
    const m = /^rgba?\(([\d.]+), ([\d.]+), ([\d.]+)(?:, ([\d.]+))?\)$/.exec(text);
    if (m) return [m[1], m[2], m[3], m[4] ?? 1].map(Number);
    const s = /^color\(srgb ([\d.e-]+) ([\d.e-]+) ([\d.e-]+)(?: \/ ([\d.e-]+))?\)$/.exec(text);
    return s ? [s[1] * 255, s[2] * 255, s[3] * 255, Number(s[4] ?? 1)] : null;
  };
  const over = (top, below, opacity = 1) => {
    const a = top[3] * opacity;
    return [0, 1, 2].map((i) => top[i] * a + below[i] * (1 - a)).concat(1);
  };
  const luminance = (c) => {
    const [r, g, b] = c.slice(0, 3).map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ratio = (a, b) => {
    const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
    return (high + 0.05) / (low + 0.05);
  };
  const opacityOf = (element) => {
    let opacity = 1;
    for (let e = element; e; e = e.parentElement) opacity *= Number(getComputedStyle(e).opacity);
    return opacity;
  };
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  const canvas = () => {
    const scheme = getComputedStyle(document.documentElement).colorScheme;
    return dark && scheme.includes("dark") ? [18, 18, 18, 1] : [255, 255, 255, 1];
  };
  /** What HTML paints behind an element. */
  const behind = (element) => {
    const layers = [];
    for (let e = element; e; e = e.parentElement) {
      const colour = parse(getComputedStyle(e).backgroundColor);
      if (colour && colour[3] > 0) layers.push(colour);
      if (colour && colour[3] === 1) break;
    }
    return layers.reverse().reduce((below, top) => over(top, below), canvas());
  };
  /** Lines of a pattern that fills a shape. */
  const patternColours = (fill) => {
    const id = /^url\("?#([^")]+)"?\)/.exec(fill)?.[1];
    const pattern = id && document.getElementById(id);
    return pattern
      ? [...pattern.children].flatMap((c) => {
          const s = getComputedStyle(c);
          const colour = parse(s.stroke === "none" ? s.fill : s.stroke);
          return colour ? [[colour, Number(s.opacity)]] : [];
        })
      : [];
  };
  /** Everything a drawing paints behind a place: one colour, or several where a pattern is. */
  const behindAt = (svg, text, x, y) => {
    const shapes = [...svg.querySelectorAll("path, rect, circle, ellipse, polygon")].filter(
      (s) => !s.closest("defs, pattern, symbol, clipPath") && s.compareDocumentPosition(text) & Node.DOCUMENT_POSITION_FOLLOWING,
    );
    let colours = [behind(svg)];
    for (const shape of shapes) {
      const box = shape.getBoundingClientRect();
      if (x < box.left || x > box.right || y < box.top || y > box.bottom) continue;
      const style = getComputedStyle(shape);
      if (style.fill === "none" || style.visibility === "hidden" || style.display === "none") continue;
      const place = new DOMPoint(x, y).matrixTransform(shape.getScreenCTM().inverse());
      if (!shape.isPointInFill(place)) continue;
      const opacity = opacityOf(shape) * Number(style.fillOpacity);
      const flat = parse(style.fill);
      if (flat) colours = colours.map((below) => over(flat, below, opacity));
      else colours = colours.flatMap((c) => [c, ...patternColours(style.fill).map(([p, o]) => over(p, c, opacity * o))]);
    }
    return colours;
  };
  const faults = [];
  const seen = new Set();
  const judge = (text, colour, backgrounds, where) => {
    const worst = Math.min(...backgrounds.map((b) => ratio(over(colour, b), b)));
    if (worst < least - 0.005) {
      const key = `${where} ${worst.toFixed(2)}`;
      if (!seen.has(key)) faults.push(`contrast ${worst.toFixed(2)} of '${text.trim().slice(0, 40)}' (${where})`);
      seen.add(key);
    }
  };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest("script, style, title, desc, noscript, template, defs")) continue;
    const style = getComputedStyle(element);
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    if (box.width < 1.5 || box.height < 1.5 || !element.checkVisibility({ visibilityProperty: true })) continue;
    const where = `${element.tagName.toLowerCase()}.${element.getAttribute("class") ?? ""}`;
    const svg = element.closest("svg");
    if (!svg) {
      // Greyed-out controls are exempt in the criterion.
      if (element.closest(":disabled")) continue;
      const colour = parse(style.color);
      judge(node.data, [...colour.slice(0, 3), colour[3] * opacityOf(element)], [behind(element)], where);
      continue;
    }
    const colour = parse(style.fill);
    if (!colour) {
      faults.push(`'${node.data.trim()}' (${where}) is filled with ${style.fill}`);
      continue;
    }
    const halo = style.paintOrder.startsWith("stroke") ? parse(style.stroke) : null;
    const wide = parseFloat(style.strokeWidth) >= 0.15 * parseFloat(style.fontSize);
    const solid = [...colour.slice(0, 3), colour[3] * Number(style.fillOpacity) * opacityOf(element)];
    if (halo && wide) {
      judge(node.data, solid, [halo], where);
      continue;
    }
    for (const [u, v] of [[0.1, 0.5], [0.5, 0.3], [0.5, 0.7], [0.9, 0.5]]) {
      const [x, y] = [box.left + u * box.width, box.top + v * box.height];
      judge(node.data, solid, behindAt(svg, element, x, y), where);
    }
  }
  return faults;
}

/** Labels of a drawing that lie on each other, by the boxes round their letters, whatever they are turned by. */
export function findLabelOverlaps() {
  const corners = (text) => {
    const b = text.getBBox();
    const m = text.getScreenCTM();
    // Letters fill less than their box: it has room for accents and descenders, and a little beside them.
    const size = parseFloat(getComputedStyle(text).fontSize);
    const lines = Math.max(1, Math.round(b.height / (1.1 * size)));
    const slack = lines === 1 ? 0.2 * b.height : 0.1 * size;
    const [x0, x1, y0, y1] = [b.x + 0.03 * size, b.x + b.width - 0.03 * size, b.y + slack, b.y + b.height - slack];
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]].map(([x, y]) => {
      const p = new DOMPoint(x, y).matrixTransform(m);
      return [p.x, p.y];
    });
  };
  /** How deep two convex outlines lie in each other; at most 0 when apart (separating axes). */
  const depth = (a, b) => {
    let least = Infinity;
    for (const ring of [a, b]) {
      for (let i = 0; i < ring.length; i += 1) {
        const [p, q] = [ring[i], ring[(i + 1) % ring.length]];
        const length = Math.hypot(q[0] - p[0], q[1] - p[1]);
        if (length < 1e-9) continue;
        const normal = [(q[1] - p[1]) / length, (p[0] - q[0]) / length];
        const on = (r) => r.map((c) => c[0] * normal[0] + c[1] * normal[1]);
        const [s, t] = [on(a), on(b)];
        least = Math.min(least, Math.max(...s) - Math.min(...t), Math.max(...t) - Math.min(...s));
      }
    }
    return least;
  };
  const faults = [];
  for (const svg of document.querySelectorAll("svg")) {
    const seen = svg.getBoundingClientRect();
    if (seen.width === 0) continue;
    const labels = [...svg.querySelectorAll("text")]
      .filter((t) => !t.closest("defs") && t.textContent.trim() && t.getBBox().width > 0)
      .map((t) => ({ words: t.textContent.trim().slice(0, 30), ring: corners(t) }))
      .map((l) => ({ ...l, left: Math.min(...l.ring.map((c) => c[0])), right: Math.max(...l.ring.map((c) => c[0])) }))
      .sort((a, b) => a.left - b.left);
    const name = svg.closest("section, article, li, figure")?.id || svg.querySelector("title")?.textContent || "a drawing";
    for (const [i, a] of labels.entries()) {
      const frame = [seen.left - 1, seen.top - 1, seen.right + 1, seen.bottom + 1];
      const out = a.ring.some(([x, y]) => x < frame[0] || y < frame[1] || x > frame[2] || y > frame[3]);
      if (out) faults.push(`'${a.words}' leaves the frame of ${name}`);
      for (const b of labels.slice(i + 1)) {
        if (b.left > a.right) break;
        // Half a pixel of a screen, a hundredth of a drawing on a wide one.
        if (depth(a.ring, b.ring) > Math.max(0.5, seen.width / 4000)) faults.push(`'${a.words}' and '${b.words}' overlap in ${name}`);
      }
    }
  }
  return faults;
}

/** Texts outside drawings that lie on each other; what floats above the page is left out. */
export function findTextOverlaps() {
  const boxes = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest("svg, script, style, template, noscript")) continue;
    // Also false within what is folded up.
    if (!element.checkVisibility({ visibilityProperty: true })) continue;
    let floats = false;
    for (let e = element; e; e = e.parentElement) {
      const s = getComputedStyle(e);
      floats ||= ["fixed", "sticky", "absolute"].includes(s.position);
      // What is scrolled out of a box of its own is not seen.
      floats ||= s.overflowX === "auto" && e.scrollWidth > e.clientWidth;
    }
    if (floats) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const r of range.getClientRects()) {
      if (r.width > 2 && r.height > 2) boxes.push({ r, words: node.data.trim().slice(0, 30), element });
    }
  }
  boxes.sort((a, b) => a.r.top - b.r.top);
  const faults = [];
  for (const [i, a] of boxes.entries()) {
    for (let j = i + 1; j < boxes.length && boxes[j].r.top < a.r.bottom; j += 1) {
      const b = boxes[j];
      const wide = Math.min(a.r.right, b.r.right) - Math.max(a.r.left, b.r.left);
      const high = Math.min(a.r.bottom, b.r.bottom) - b.r.top;
      // Lines set close share some of the room above their letters.
      if (wide > 2 && high > 0.35 * Math.min(a.r.height, b.r.height)) faults.push(`'${a.words}' and '${b.words}' overlap`);
    }
  }
  return faults;
}

/** Sideways scrolling of the page, and text that the edge of a box cuts off. */
export function findCutOff() {
  const faults = [];
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) {
    const wide = [...document.body.querySelectorAll("*")]
      .filter((e) => e.getBoundingClientRect().right > root.clientWidth + 1 && !e.closest("svg *"))
      .pop();
    const who = wide ? `, because of ${wide.tagName.toLowerCase()}.${wide.className} '${wide.textContent.trim().slice(0, 30)}'` : "";
    faults.push(`the page is ${root.scrollWidth} wide${who}`);
  }
  for (const e of document.body.querySelectorAll("*")) {
    if (e.closest("svg")) continue;
    const s = getComputedStyle(e);
    // What is kept for screen readers alone is a pixel in size.
    if (e.clientWidth <= 1 || !["hidden", "clip"].includes(s.overflowX) || e === document.body) continue;
    if (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1) {
      faults.push(`${e.tagName.toLowerCase()}.${e.className} cuts off '${e.textContent.trim().slice(0, 30)}'`);
    }
  }
  // A list that is too narrow scrolls. Beside another it need not be: below it there is twice the room.
  for (const list of document.querySelectorAll(".parts")) {
    const beside = [...list.parentElement.children].some((e) => e !== list && e.offsetTop === list.offsetTop);
    if (beside && list.scrollWidth > list.clientWidth + 1) faults.push(`a list beside another hides its end: '${list.textContent.trim().slice(0, 30)}'`);
  }
  return faults;
}
