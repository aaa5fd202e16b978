#!/usr/bin/env python3
"""Breaks a good nest in many ways and sees that outside_checks.py notices each.

    broken_nests.py OUT_DIR DATA_DIR ORDER.json

OUT_DIR holds a nest that passes. It is copied; nothing in it is changed. Exit code 1 when a fault goes
unnoticed. A fault that this nest gives no occasion for is skipped and said so.
"""

import contextlib
import io
import json
import shutil
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import outside_checks
from shapely.affinity import translate
from shapely.geometry import Polygon


class Skip(Exception):
    """The nest has nothing to break in this way."""


def first(items):
    for item in items:
        return item
    raise Skip


def move(placed, x, y):
    placed["origin"] = [placed["origin"][0] + x, placed["origin"][1] + y]
    for ring in [placed["outline"], *placed["holes"]]:
        for point in ring:
            point[0] += x
            point[1] += y


def placements(nest, sheets=lambda s: True):
    return [p for s in nest["sheets"] if sheets(s) for p in s["placements"]]


# ---- faults of nest.json --------------------------------------------------------------------------


def lost_part(nest):
    first(s for s in nest["sheets"] if s["placements"])["placements"].pop()


def extra_copy(nest):
    sheet = first(s for s in nest["sheets"] if s["placements"])
    sheet["placements"].append(json.loads(json.dumps(sheet["placements"][0])))


def part_out_of_the_sheet(nest):
    move(first(placements(nest)), -5000.0, 0.0)


def margin_short(nest):
    """By twice what is forgiven."""
    sheet = first(s for s in nest["sheets"] if s["placements"] and not s["saw_cuts"])
    left = min(x for x, _ in sheet["outline"])
    placed = min(sheet["placements"], key=lambda p: min(x for x, _ in p["outline"]))
    nearest = min(x for x, _ in placed["outline"])
    move(placed, left + sheet["margin"] - 2 * outside_checks.LENGTH - nearest, 0.0)


def clamp_under_a_part(nest):
    sheet = first(s for s in nest["sheets"] if s["placements"] and s["method"] == "free-form")
    sheet["keep_clear"] = [{"why": "clamp", "outline": sheet["placements"][0]["outline"]}]


def parts_on_each_other(nest):
    sheet = first(s for s in nest["sheets"] if len(s["placements"]) > 1)
    a, b = sheet["placements"][:2]
    move(b, a["outline"][0][0] - b["outline"][0][0], a["outline"][0][1] - b["outline"][0][1])


def gap_short(nest):
    """By twice what is forgiven: found by halving, from lying on each other to far apart."""
    sheet = first(s for s in nest["sheets"] if len(s["placements"]) > 1 and s["gap"] > 0.1)
    a, b = sheet["placements"][:2]
    parts_on_each_other({"sheets": [sheet]})
    still = Polygon(a["outline"])
    apart, near, far = sheet["gap"] - 2 * outside_checks.LENGTH, 0.0, 1e5
    for _ in range(60):
        middle = 0.5 * (near + far)
        if translate(Polygon(b["outline"]), middle).distance(still) < apart:
            near = middle
        else:
            far = middle
    move(b, far, 0.0)


def outline_too_small(nest):
    placed = first(placements(nest))
    x, y = placed["outline"][0]
    placed["outline"] = [[x + 0.999 * (a - x), y + 0.999 * (b - y)] for a, b in placed["outline"]]


def hole_forgotten(nest):
    first(p for p in placements(nest) if p["holes"])["holes"].pop()


def void_under_a_part(nest):
    sheet = first(s for s in nest["sheets"] if s["placements"])
    sheet["voids"].append(sheet["placements"][0]["outline"])


def turned_on_paper_only(nest):
    placed = first(placements(nest))
    placed["angle"] = (placed["angle"] + 37.0) % 360


def clockwise(nest):
    first(placements(nest))["outline"].reverse()


def saw_cut_stops_short(nest):
    cut = first(c for s in nest["sheets"] for c in s["saw_cuts"])
    for axis in (0, 1):
        cut["to"][axis] = cut["from"][axis] + 0.5 * (cut["to"][axis] - cut["from"][axis])


def saw_cut_left_out(nest):
    sheet = first(s for s in nest["sheets"] if s["method"] == "guillotine" and s["saw_cuts"])
    sheet["saw_cuts"].pop()


def saw_cuts_in_the_wrong_order(nest):
    sheet = first(s for s in nest["sheets"] if len(s["saw_cuts"]) > 1)
    sheet["saw_cuts"].reverse()


def saw_cut_aside(nest):
    sheet = first(s for s in nest["sheets"] if s["method"] == "guillotine" and s["saw_cuts"])
    cut = sheet["saw_cuts"][-1]
    axis = 0 if cut["from"][0] == cut["to"][0] else 1
    for end in ("from", "to"):
        cut[end][axis] += 0.1


def wrong_material(nest):
    nest["sheets"][0]["material"] = "something else"


def sheet_larger_than_bought(nest):
    sheet = first(s for s in nest["sheets"] if s["source"]["kind"] == "sheet")
    sheet["outline"] = [[1.01 * x, y] for x, y in sheet["outline"]]


def area_too_good(nest):
    nest["totals"]["part_area"] *= 1.002


def yield_above_its_ceiling(nest):
    sheet = nest["sheets"][0]
    sheet["yield_ceiling"] = 0.5 * sheet["yield"]


def offcut_over_a_part(nest):
    sheet = first(s for s in nest["sheets"] if s["offcuts"] and s["placements"])
    sheet["offcuts"][0]["outline"] = sheet["outline"]


def kit_told_too_early(nest):
    first(s for s in nest["sheets"] if s["kits_complete"])["kits_complete"] += 1


def part_given_to_another_kit(nest):
    number = max(p.get("kit_number", 0) for p in placements(nest))
    first(p for p in placements(nest) if p.get("kit_number", number) < number)["kit_number"] = number


def lots_mixed(nest):
    # The demo order is nested without that option, and takes its composite from several lots.
    nest["choices"] = [{"option": "--one-lot"}]


NEST_FAULTS = [
    (lost_part, "counts against the order"),
    (extra_copy, "counts against the order"),
    (kit_told_too_early, "kits"),
    (part_given_to_another_kit, "kits"),
    (lots_mixed, "kits"),
    (part_out_of_the_sheet, "margin"),
    (margin_short, "margin"),
    (void_under_a_part, "margin"),
    (clamp_under_a_part, "margin"),
    (parts_on_each_other, "overlap and gap"),
    (gap_short, "overlap and gap"),
    (outline_too_small, "outlines against the drawings"),
    (hole_forgotten, "outlines against the drawings"),
    (turned_on_paper_only, "outlines against the drawings"),
    (clockwise, "form of nest.json"),
    (saw_cut_stops_short, "saw cuts"),
    (saw_cut_left_out, "saw cuts"),
    (saw_cuts_in_the_wrong_order, "saw cuts"),
    (saw_cut_aside, "saw cuts"),
    (wrong_material, "stock, materials and turns"),
    (sheet_larger_than_bought, "stock, materials and turns"),
    (area_too_good, "areas and yields"),
    (yield_above_its_ceiling, "areas and yields"),
    (offcut_over_a_part, "offcuts"),
]


# ---- faults of cut files ---------------------------------------------------------------------------


def entities(text):
    """The text before the entities, each entity as text, and the text after them."""
    head, rest = text.split("  2\nENTITIES\n", 1)
    body, tail = rest.split("  0\nENDSEC\n", 1)
    pieces = [f"  0\n{piece}" for piece in body.split("  0\n")[1:]]
    return f"{head}  2\nENTITIES\n", pieces, f"  0\nENDSEC\n{tail}"


def with_entities(change):
    def broken(text):
        head, pieces, tail = entities(text)
        return head + "".join(change(pieces)) + tail

    return broken


def layer_of(piece):
    return piece.split("  8\n", 1)[1].split("\n", 1)[0]


def outlines_first(pieces):
    if not any(layer_of(p).startswith("PW-INSIDE") for p in pieces):
        raise Skip
    return sorted(pieces, key=lambda p: not layer_of(p).startswith(("PW-OUTSIDE", "PW-SAWN")))


def arcs_as_lines(pieces):
    def straight(piece):
        lines = piece.split("\n")
        pairs = [(lines[i], lines[i + 1]) for i in range(0, len(lines) - 1, 2)]
        return "".join(f"{a}\n{b}\n" for a, b in pairs if a.strip() != "42")

    changed = [straight(p) if layer_of(p).startswith("PW-OUTSIDE") else p for p in pieces]
    if changed == pieces:
        raise Skip
    return changed


def cut_missing(pieces):
    i = first(i for i, p in enumerate(pieces) if layer_of(p).startswith("PW-INSIDE"))
    return pieces[:i] + pieces[i + 1 :]


def cut_twice(pieces):
    cut = first(p for p in pieces if layer_of(p).startswith(("PW-INSIDE", "PW-OUTSIDE")))
    return [*pieces, cut.replace("\n  5\n", "\n  5\nF", 1)]


def no_unit(text):
    return text.replace("$INSUNITS\n 70\n4", "$INSUNITS\n 70\n1", 1)


def window_with_the_part_in_it(pieces):
    if not any(layer_of(p) == "PW-OUTSIDE-1" for p in pieces):
        raise Skip
    return [p.replace("\nPW-OUTSIDE-1\n", "\nPW-OUTSIDE\n") for p in pieces]


FILE_FAULTS = [
    (with_entities(outlines_first), "outlines_first", "cuts of the sheets"),
    (with_entities(arcs_as_lines), "arcs_as_lines", "cuts of the sheets"),
    (with_entities(cut_missing), "cut_missing", "cuts of the sheets"),
    (with_entities(cut_twice), "cut_twice", "cuts of the sheets"),
    (with_entities(window_with_the_part_in_it), "window_with_the_part_in_it", "cuts of the sheets"),
    (no_unit, "no_unit", "cut files can be read"),
]


def in_nest(out, fault):
    """`out` with a fault in nest.json."""
    nest = json.loads((out / "nest.json").read_text())
    fault(nest)
    return {"nest.json": json.dumps(nest)}


def in_file(out, fault):
    """`out` with a fault in the first cut file that gives occasion for it."""
    for path in sorted((out / "cut").glob("sheet-*.dxf")):
        if "blank" in path.name:
            continue
        with contextlib.suppress(Skip):
            return {f"cut/{path.name}": fault(path.read_text())}
    raise Skip


def all_faults():
    """Name, how it is made, and the check that has to notice it."""
    for fault, check in NEST_FAULTS:
        yield fault.__name__, in_nest, fault, check
    for fault, name, check in FILE_FAULTS:
        yield name, in_file, fault, check


def tried(number, out, data, order):
    """What to say of the fault with this number, and whether it was noticed or skipped."""
    name, make, fault, check = list(all_faults())[number]
    try:
        changed = make(out, fault)
    except Skip:
        return f"skipped   {name}", True
    text = io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "out"
        shutil.copytree(out, copy)
        for file, content in changed.items():
            (copy / file).write_text(content)
        with contextlib.redirect_stdout(text):
            outside_checks.main([str(copy), str(data), str(order)])
    seen = f"FAIL {check}:" in text.getvalue()
    where = "".join(f" in {file}" for file in changed if file != "nest.json")
    return f"{'noticed  ' if seen else 'UNNOTICED'} {name}{where} ({check})", seen


def main(arguments):
    if len(arguments) != 3:
        print(__doc__)
        return 2
    out, data, order = Path(arguments[0]), Path(arguments[1]), Path(arguments[2])
    if outside_checks.main(arguments):
        print("the nest is to be one that passes")
        return 2
    count = len(list(all_faults()))
    with ProcessPoolExecutor() as pool:
        found = list(pool.map(tried, range(count), *([x] * count for x in (out, data, order))))
    for text, _ in found:
        print(text)
    return 0 if all(fine for _, fine in found) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
