"""Reads PDFs that a browser printed and says what is missing, cut off, or on the wrong page.

    printed_pages.py FOLDER

For each NAME.json (texts of a page, of each sheet of it) there are NAME-A4.pdf and NAME-Letter.pdf. Every text must be in the
PDF, every letter must stand on the paper within what printers reach, and each sheet has one page of its own.
"""

import json
import sys
import unicodedata
from pathlib import Path

import pypdfium2

# Millimetres, upright: ISO 216; ANSI/ASME Y14.1 size A.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
# What common office printers leave white along the edges, millimetres (common practice: 4.2 to 6.4).
MARGIN = 5.0
POINT = 25.4 / 72.0
# Below this, text on paper is not read at arm's length: a capital of some 1.5 mm (from experience, no standard).
LEAST_FONT = 6.0


def bare(text):
    """Without blanks, hyphens and differences of ligatures: lines may break anywhere, and readers tell a hyphen at their
    end in several ways."""
    text = unicodedata.normalize("NFKC", text)
    return "".join(c for c in text if not c.isspace() and c not in "-\u00ad\u2010\u0002\ufffe")


def read(path):
    """Pages as (size in mm, bare text, boxes of letters in mm)."""
    pages = []
    document = pypdfium2.PdfDocument(path)
    for page in document:
        width, height = page.get_size()
        text = page.get_textpage()
        letters = text.get_text_range()
        boxes = []
        for i in range(text.count_chars()):
            left, bottom, right, top = text.get_charbox(i)
            if right > left and top > bottom:
                boxes.append((left * POINT, bottom * POINT, right * POINT, top * POINT))
        pages.append(((width * POINT, height * POINT), bare(letters), boxes))
    document.close()
    return pages


def pages_of(sheet, pages):
    """Numbers of the pages that a sheet takes: one with its drawing and lists, then those of its steps at the saw."""
    drawing, steps = ([bare(t) for t in sheet[k]] for k in ("drawing", "steps"))
    holding = [n for n, (_, text, _) in enumerate(pages, 1) if all(t in text for t in drawing)]
    if len(holding) != 1:
        best = max(range(len(pages)), key=lambda n: sum(t in pages[n][1] for t in drawing))
        missing = [t for t in drawing if t not in pages[best][1]]
        return [], f"{sheet['id']} is whole on {len(holding)} pages; page {best + 1} lacks {missing[:4]}"
    first = holding[0]
    found = [first]
    # Short ones, such as numbers, are found anywhere.
    steps = [t for t in steps if len(t) >= 8]
    left = [t for t in steps if t not in pages[first - 1][1]]
    # A heading and its explanation alone at the foot of a page are no use to anybody.
    if left and 0 < len(steps) - len(left) <= 3:
        return found, f"{sheet['id']}: '{steps[0]}' stands on page {first}, its steps do not"
    for number in range(first + 1, len(pages) + 1):
        if not left:
            break
        rest = [t for t in left if t not in pages[number - 1][1]]
        if len(rest) == len(left):
            break
        left = rest
        found.append(number)
    return found, f"{sheet['id']}: steps that are on none of its pages: {left[:3]}" if left else None


def faults_of(path, paper, expected):
    """What is wrong with one PDF."""
    pages = read(path)
    faults = []
    short, long = PAPERS[paper]
    for number, (size, _, boxes) in enumerate(pages, 1):
        if abs(min(size) - short) > 0.5 or abs(max(size) - long) > 0.5:
            faults.append(f"page {number} is {size[0]:.0f} x {size[1]:.0f} mm")
        off = [b for b in boxes if b[0] < MARGIN or b[1] < MARGIN or b[2] > size[0] - MARGIN or b[3] > size[1] - MARGIN]
        if off:
            faults.append(f"page {number}: {len(off)} letters within {MARGIN:.0f} mm of the edge or beyond it")
        if not boxes:
            faults.append(f"page {number} is empty")
    everything = "".join(text for _, text, _ in pages)
    lost = [t for t in expected["all"] if bare(t) not in everything]
    faults += [f"not printed: '{t}'" for t in lost]
    used = {}
    for sheet in expected["sheets"]:
        found, fault = pages_of(sheet, pages)
        if fault:
            faults.append(fault)
        for number in found:
            other = used.setdefault(number, sheet["id"])
            if other != sheet["id"]:
                faults.append(f"{sheet['id']} shares page {number} with {other}")
        own = sum(len(bare(t)) for t in sheet["drawing"] + sheet["steps"])
        rest = sum(len(pages[n - 1][1]) for n in found) - own
        # Letters with a halo are there up to twice.
        if found and rest > 0.1 * own + 40 + 2 * sheet["haloed"]:
            faults.append(f"pages {found} have {rest} letters that do not belong to {sheet['id']}")
    return len(pages), faults


def main():
    folder = Path(sys.argv[1])
    sound = True
    names = sorted(folder.glob("*.json"))
    if not names:
        sys.exit(f"{folder}: there is no page that was printed")
    for name in names:
        expected = json.loads(name.read_text())
        for paper in PAPERS:
            count, faults = faults_of(folder / f"{name.stem}-{paper}.pdf", paper, expected)
            print(f"{name.stem} on {paper}: {count} pages, {len(expected['all'])} texts, {'sound' if not faults else 'FAULTY'}")
            for fault in faults[:8]:
                print(f"  {fault}")
            if len(faults) > 8:
                print(f"  {len(faults) - 8} more")
            sound &= not faults
    sys.exit(0 if sound else 1)


if __name__ == "__main__":
    main()
