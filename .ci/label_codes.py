#!/usr/bin/env python3
"""Reads every QR code of a nest's labels as people print them, with two readers that are not the program's.

    label_codes.py OUT_DIR ORDER_NAME [CHROMIUM]

OUT_DIR is what `panelwright nest` wrote, ORDER_NAME the name of the order as its file has it. labels.html is
printed to PDF by Chromium, the pages drawn by PDFium and read by ZBar and by ZXing. Each reader must find exactly
the identities that nest.json asks for, each once: ORDER/KIT/PART:COPY of every copy, ORDER/KIT#NUMBER of every kit,
DIGEST/OFFCUT of every offcut kept, or ID: and sixteen hexadecimal digits of the SHA-256 of one of these where it
is too long for its label. Pages must have the size that labels.html names, and dark modules the quiet zone and the
least side that are promised (measured on the page by ZXing's corners).

Prints one line for each check and one for each fault; the exit code is 0 when there was none, 1 when there was
one, 2 when something could not be read.
"""

import hashlib
import json
import re
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

import pypdfium2
import zxingcpp

try:
    from pyzbar import pyzbar
except ImportError as error:
    print(f"ZBar's library is missing ({error}); Debian has it as libzbar0")
    sys.exit(2)

DPI = 300
LEAST_MODULE = 0.33  # mm; common practice, see crates/cli/papers/code.rs
QUIET = 4  # modules, ISO/IEC 18004


def wanted(out, order):
    """The identities that the labels must have."""
    data = (out / "nest.json").read_bytes()
    nest = json.loads(data)
    digest = hashlib.sha256(data).hexdigest()[:8]
    found, kits = [], set()
    for sheet in nest["sheets"]:
        for placed in sheet["placements"]:
            found.append(f"{order}/{placed['kit']}/{placed['part']}:{placed['copy']}")
            if "kit_number" in placed:
                kits.add((placed["kit"], placed["kit_number"]))
        found += [f"{digest}/{o['id']}" for o in sheet["offcuts"] if o["kept"]]
    return found + [f"{order}/{kit}#{number}" for kit, number in sorted(kits)], nest["totals"]["kits"] - len(kits)


def short(identity):
    return "ID:" + hashlib.sha256(identity.encode()).hexdigest()[:16].upper()


def printed(page, chromium, folder):
    """The page as PDF."""
    pdf = folder / "labels.pdf"
    run = subprocess.run(
        [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={pdf}", page.resolve().as_uri()],
        capture_output=True, text=True, timeout=240)
    if not pdf.is_file():
        print(f"{chromium} printed nothing: {run.stderr.strip()[-300:]}")
        sys.exit(2)
    return pypdfium2.PdfDocument(pdf)


def zbar(image):
    codes = pyzbar.decode(image, symbols=[pyzbar.ZBarSymbol.QRCODE])
    return [code.data.decode("utf-8", "replace") for code in codes]


def closer(image, corners):
    """What ZBar reads of one code with a little of what is round it, smaller and larger."""
    xs = [p.x for p in (corners.top_left, corners.top_right, corners.bottom_left, corners.bottom_right)]
    ys = [p.y for p in (corners.top_left, corners.top_right, corners.bottom_left, corners.bottom_right)]
    room = 0.2 * (max(xs) - min(xs))
    crop = image.crop((int(min(xs) - room), int(min(ys) - room), int(max(xs) + room), int(max(ys) + room)))
    for scale in (1, 2, 0.7):
        found = zbar(crop.resize((int(crop.width * scale), int(crop.height * scale))))
        if found:
            return found[:1]
    return []


def main():
    out, order = Path(sys.argv[1]), sys.argv[2]
    chromium = sys.argv[3] if len(sys.argv) > 3 else "chromium"
    html = (out / "labels.html").read_text(encoding="utf-8")
    size = re.search(r"@page \{ size: ([\d.]+)mm ([\d.]+)mm", html)
    pages_told = html.count('<svg class="page"')
    want, open_kits = wanted(out, order)
    faults = []
    read = {"ZBar": [], "ZXing": []}
    least, quiet = float("inf"), float("inf")
    with tempfile.TemporaryDirectory() as folder:
        pdf = printed(out / "labels.html", chromium, Path(folder))
        if len(pdf) != pages_told:
            faults.append(f"{len(pdf)} pages are printed, {pages_told} are there")
        for number, page in enumerate(pdf, 1):
            mm = [v / 72 * 25.4 for v in page.get_size()]
            told = [float(size[1]), float(size[2])]
            if any(abs(a - b) > 0.5 for a, b in zip(mm, told)):
                faults.append(f"page {number} is {mm[0]:.1f} x {mm[1]:.1f} mm, not {told[0]} x {told[1]}")
            image = page.render(scale=DPI / 72).to_pil().convert("L")
            seen, again = Counter(zbar(image)), Counter()
            for code in zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode):
                read["ZXing"].append(code.text)
                corners = code.position
                again.update(closer(image, corners))
                side = abs(corners.top_right.x - corners.top_left.x) / DPI * 25.4
                left, top = corners.top_left.x, corners.top_left.y
                module, modules = module_of(image, left, top, side)
                least = min(least, module)
                quiet = min(quiet, clear_round(image, left, top, modules, module) / module)
            # ZBar now and then misses a code on a page full of them; then it is held nearer, as a person would.
            read["ZBar"] += (seen | again).elements()
    for reader, texts in read.items():
        count = Counter(texts)
        taken = Counter()
        for identity in want:
            form = identity if count[identity] else short(identity)
            taken[form] += 1
            if count[form] != 1:
                faults.append(f"{reader} reads {count[form]} codes of {identity}")
        extra = count - taken
        # Kits of which nothing is placed have a label but no copy in nest.json.
        extra = [text for text in extra if not (open_kits and re.fullmatch(re.escape(order) + "/.*#\\d+", text))]
        faults += [f"{reader} reads '{text}', which nothing asks for" for text in extra]
    if least < LEAST_MODULE - 0.02:
        faults.append(f"a module is {least:.3f} mm wide, less than {LEAST_MODULE}")
    if quiet < QUIET - 0.3:
        faults.append(f"only {quiet:.1f} modules are clear beside a code, not {QUIET}")
    counts = ", ".join(f"{reader} reads {len(texts)}" for reader, texts in read.items())
    print(f"{'FAIL' if faults else 'ok  '} labels: {pages_told} pages of {size[1]} x {size[2]} mm, {len(want)} identities, "
          f"{counts}; modules from {least:.2f} mm, {quiet:.1f} clear round them")
    for fault in faults:
        print(f"       {fault}")
    return 1 if faults else 0


def module_of(image, left, top, side):
    """Side of a module in mm, and how many there are: the finder's dark bar is seven modules long."""
    y = int(top + 2)
    x = int(left + 2)
    dark = 0
    while x + dark < image.width and image.getpixel((x + dark, y)) < 128:
        dark += 1
    back = 0
    while image.getpixel((x - back - 1, y)) < 128:
        back += 1
    module = (dark + back) / DPI * 25.4 / 7
    return module, round(side / module)


def clear_round(image, left, top, modules, module):
    """How far, in mm, nothing dark is left of and above a code, along its whole side."""
    px = module / 25.4 * DPI
    side = int(modules * px)
    reach = int((QUIET + 2) * px)
    x0, y0 = int(left), int(top)
    free = reach
    for distance in range(2, reach):
        column = [image.getpixel((max(x0 - distance, 0), min(y0 + i, image.height - 1))) for i in range(0, side, 2)]
        row = [image.getpixel((min(x0 + i, image.width - 1), max(y0 - distance, 0))) for i in range(0, side, 2)]
        if min(column) < 100 or min(row) < 100:
            free = distance
            break
    return free / DPI * 25.4


if __name__ == "__main__":
    try:
        sys.exit(main())
    except (OSError, ValueError, IndexError, KeyError, subprocess.TimeoutExpired) as error:
        print(f"label_codes: {type(error).__name__}: {error}")
        sys.exit(2)
