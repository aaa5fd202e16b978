/* Search, ticks and progress. The page says everything without it. */
(function () {
  "use strict";
  var page = document, root = page.documentElement;
  var tools = page.getElementById("tools"), words = tools.dataset;
  var all = function (query, within) {
    return Array.prototype.slice.call((within || page).querySelectorAll(query));
  };
  var fill = function (text, values) {
    return text.replace(/#(\w+)/g, function (whole, key) {
      return key in values ? values[key] : whole;
    });
  };
  root.classList.add("script");
  tools.hidden = false;

  /* Ticks: kept under the digest of this nest, so that another one does not take them over. */
  var key = "panelwright-report-" + words.nest, saved = true, state = {}, cleared = null;
  var boxes = all("input[data-t]");
  var sheets = all("input[data-sheet]");
  var kits = all("td[data-kit]");
  var read = function () {
    state = {};
    try {
      var kept = JSON.parse(window.localStorage.getItem(key) || "{}");
      if (kept && typeof kept === "object") { state = kept; }
    } catch (refused) { saved = false; }
  };
  var write = function () {
    try {
      window.localStorage.setItem(key, JSON.stringify(state));
    } catch (refused) { saved = false; }
  };
  var show = function () {
    var done = {}, cut = 0, complete = 0, next = null;
    boxes.forEach(function (box) { box.checked = state[box.dataset.t] === 1; });
    sheets.forEach(function (box) {
      var link = page.querySelector("nav a[data-s='" + box.dataset.sheet + "']");
      if (link) { link.classList.toggle("done", box.checked); }
      if (box.checked) { cut += 1; done[box.dataset.sheet] = true; } else if (!next) { next = box; }
    });
    kits.forEach(function (cell) {
      var open = cell.dataset.kit.split(" ").filter(function (n) { return n && !done[n]; }).length;
      var lacks = Number(cell.dataset.lack || 0);
      if (open === 0 && lacks === 0) { complete += 1; }
      cell.textContent = open ? fill(words.open, { n: open })
        : lacks ? fill(words.lacks, { n: lacks }) : "✓ " + words.complete;
    });
    var text = fill(words.progress, { n: cut, m: sheets.length });
    if (kits.length) { text += "; " + fill(words.kits, { n: complete }); }
    if (sheets.length && !next) { text += ". " + words.all; }
    if (!saved) { text += ". " + words.unsaved; }
    var line = page.getElementById("progress");
    if (line.textContent !== text) { line.textContent = text; }
    var onward = page.getElementById("next");
    onward.hidden = !next;
    if (next) {
      var to = onward.querySelector("a");
      to.href = "#sheet-" + next.dataset.sheet;
      to.textContent = next.dataset.name;
    }
    var some = Object.keys(state).length > 0, button = page.getElementById("clear");
    button.hidden = !some && !cleared;
    button.textContent = some ? words.clear : words.back;
  };
  page.addEventListener("change", function (event) {
    var name = event.target.dataset.t;
    if (!name) { return; }
    if (event.target.checked) { state[name] = 1; } else { delete state[name]; }
    cleared = null;
    write();
    show();
  });
  page.getElementById("clear").addEventListener("click", function () {
    if (Object.keys(state).length) { cleared = state; state = {}; } else { state = cleared || {}; cleared = null; }
    write();
    show();
  });
  window.addEventListener("storage", function (event) {
    if (event.key === key || event.key === null) { read(); show(); }
  });
  read();
  show();
  /* Some browsers fill boxes in again after this script. */
  window.addEventListener("pageshow", show);

  /* Search: rows that do not match are hidden in their tables, those that do are listed under the field. */
  var field = page.getElementById("search"), list = page.getElementById("found"), count = page.getElementById("count");
  var entries = all("[data-f]"), most = 40;
  var plain = function (text) {
    return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  };
  /* Also without what joins words, so that "left" finds "side-left" as a word and 5 does not find 15. */
  var split = function (text) { return " " + text.replace(/[^\p{L}\p{N}]+/gu, " ").trim() + " "; };
  var texts = entries.map(function (entry) {
    var text = plain(entry.dataset.f);
    return " " + text + split(text);
  });
  var matches = function (text, word) {
    return text.indexOf(/^\d+$/.test(word) ? " " + word + " " : word) >= 0;
  };
  var row = function (entry) { return entry.tagName === "TR"; };
  var hit = function (entry) {
    var item = page.createElement("li"), link = page.createElement("a");
    link.href = "#" + entry.id;
    link.textContent = (row(entry) ? entry.dataset.k + " " : "") + entry.querySelector(".t").textContent;
    item.appendChild(link);
    all("a.sh", entry).forEach(function (sheet, i) {
      var lead = /^\d/.test(sheet.textContent) ? " → " + words.sheets + " " : " → ";
      item.appendChild(page.createTextNode(i ? " " : lead));
      var to = sheet.cloneNode(true), place = sheet.parentNode.querySelector(":scope > .links a");
      if (place) { to.href = place.getAttribute("href"); }
      item.appendChild(to);
    });
    return item;
  };
  var search = function () {
    var asked = plain(field.value).split(/\s+/).filter(Boolean), items = {};
    var phrase = split(plain(field.value)), first = [], others = [];
    list.textContent = "";
    entries.forEach(function (entry, i) {
      var match = asked.every(function (word) { return matches(texts[i], word); });
      if (row(entry)) { entry.hidden = !match; }
      if (!match || !asked.length) { return; }
      if (entry.dataset.i) { items[entry.dataset.i] = true; }
      /* What has the words next to each other, such as "sheet 5", comes first. */
      (phrase.trim() && texts[i].indexOf(phrase) >= 0 ? first : others).push(entry);
    });
    var hits = first.concat(others), found = hits.length;
    hits.slice(0, most).forEach(function (entry) { list.appendChild(hit(entry)); });
    all(".filtered").forEach(function (note) { note.hidden = !note.parentNode.querySelector("tr[hidden]"); });
    if (found > most) {
      var rest = page.createElement("li");
      rest.textContent = fill(words.more, { n: found - most });
      list.appendChild(rest);
    }
    all(".drawing g.p").forEach(function (part) { part.classList.toggle("hit", items[part.dataset.i] === true); });
    list.hidden = found === 0;
    count.textContent = !asked.length ? "" : found ? fill(words.found, { n: found }) : fill(words.none, { what: field.value.trim() });
  };
  field.addEventListener("input", search);
  page.addEventListener("keydown", function (event) {
    var typing = /^(INPUT|TEXTAREA|SELECT)$/.test(event.target.tagName || "") ? event.target.type !== "checkbox" : false;
    if (event.key === "/" && !typing && !event.ctrlKey && !event.metaKey && !event.altKey) {
      event.preventDefault();
      field.focus();
      field.select();
    } else if (event.key === "Escape" && field.value) {
      field.value = "";
      search();
      field.focus();
    }
  });
  list.addEventListener("click", function (event) {
    if (event.target.tagName === "A") { list.hidden = true; }
  });
  field.addEventListener("focus", function () { list.hidden = !list.firstChild; });

  /* A place that is linked to is shown, also where a search has hidden it or a box has scrolled it away. */
  var arrive = function () {
    var at = page.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!at) { return; }
    at.hidden = false;
    if (at.ownerSVGElement) {
      at.ownerSVGElement.scrollIntoView({ block: "nearest" });
      at.scrollIntoView({ block: "center", inline: "center" });
    }
  };
  window.addEventListener("hashchange", arrive);
  if (location.hash) { arrive(); }
})();
