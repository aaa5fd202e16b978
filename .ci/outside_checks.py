#!/usr/bin/env python3
"""Checks a nest with other people's geometry: shapely, ezdxf and arithmetic of its own.

    outside_checks.py OUT_DIR DATA_DIR ORDER.json

OUT_DIR is what `panelwright nest` wrote, ORDER.json the order it was written for (a path, or a name
in DATA_DIR). Nothing of the program is used: the parts are read from the drawings and kit files anew.

Prints one line for each check and one for each fault; the exit code is 0 when there was none, 1 when
there was one, 2 when something could not be read.
"""

import json
import math
import re
import sys
import xml.etree.ElementTree as ElementTree
from collections import Counter
from pathlib import Path

import ezdxf
from shapely import STRtree
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from part_shapes import Ring, dxf_curves, part_shape
from saw_replay import pieces_after

LENGTH = 0.01  # mm, for gaps, margins and sizes
COVER = 0.02  # mm, how much more than the part a polygon of nest.json may show
FIT = 0.02  # mm, for curves that are neither lines nor arcs in the drawing, on top
SHARE = 0.001  # of an area sum


class Report:
    """Faults by check, in the order in which the checks were made."""

    def __init__(self):
        self.faults = 0

    def check(self, name, function):
        found = []
        summary = function(found.append)
        self.faults += len(found)
        print(f"{'FAIL' if found else 'ok  '} {name}: {summary}")
        for fault in found:
            print(f"       {fault}")


def run(document, arguments, kind, checks):
    """What both scripts do: an out folder, a data folder and an order, then the checks by name; the exit code.

    `kind` makes the object that the checks ask, from the out folder and the order; `checks` gives names and
    functions for it.
    """
    if len(arguments) != 3:
        print(document)
        return 2
    out, data, name = Path(arguments[0]), Path(arguments[1]), Path(arguments[2])
    try:
        made = kind(out, Order(name if name.exists() else data / name))
    except (OSError, ValueError, KeyError, ezdxf.DXFError) as error:
        print(f"cannot be read: {type(error).__name__}: {error}")
        return 2
    report = Report()
    for name, function in checks(made).items():
        report.check(name, function)
    print(f"{report.faults} faults" if report.faults else "no fault found")
    return 1 if report.faults else 0


def rings_of(placed):
    return [placed["outline"], *placed["holes"]]


def polygon_of(placed):
    return Polygon(placed["outline"], placed["holes"])


def on_bed(sheet, shape):
    """A shape of the drawings that lies on a sheet, as the sheet's cut file has it."""
    moved = sheet.get("on_bed")
    return shape.placed(moved["angle"], moved["origin"]) if moved else shape


def title(sheet, placed=None):
    where = f"sheet {sheet['number']}"
    return where if placed is None else f"{where}, {placed['part']} copy {placed['copy']}"


class Order:
    """An order with its kits, shop and part shapes, read from the files."""

    def __init__(self, path):
        self.order = json.loads(path.read_text())
        folder = path.parent
        shop_path = folder / self.order["shop"]
        self.shop = json.loads(shop_path.read_text())
        self.unit = {"mm": 1.0, "inch": 25.4}[self.shop.get("units", "mm")]
        self.remnants = {}
        if self.shop.get("remnants"):
            listed = json.loads((shop_path.parent / self.shop["remnants"]).read_text())
            unit = {"mm": 1.0, "inch": 25.4}[listed.get("units", "mm")]
            self.remnants = {r["id"]: (r, unit) for r in listed["remnants"]}
        self.wanted, self.parts, self.shapes = Counter(), {}, {}
        self.kits, self.content = Counter(), {}  # kits by name, and copies in one by part
        for line in [*self.order.get("kits", []), *self.order.get("parts", [])]:
            kit_path = folder / line["kit"]
            kit = json.loads(kit_path.read_text())
            unit = {"mm": 1.0, "inch": 25.4}[kit.get("units", "mm")]
            if "part" not in line:
                self.kits[kit["kit"]] += line["quantity"]
                self.content[kit["kit"]] = Counter({p["part"]: p["quantity"] for p in kit["parts"]})
            for part in kit["parts"]:
                if "part" in line and line["part"] != part["part"]:
                    continue
                key = (kit["kit"], part["part"])
                each = 1 if "part" in line else part["quantity"]
                self.wanted[key] += line["quantity"] * each
                self.parts[key] = part
                if key not in self.shapes:
                    self.shapes[key] = part_shape(part, kit_path.parent, unit)

    def material(self, part):
        return part.get("material") or self.order.get("roles", {}).get(part.get("role"))

    def machine(self, name):
        return next((m for m in self.shop["machines"] if m["name"] == name), None)


class CutFile:
    """A DXF with its cuts in file order."""

    def __init__(self, path):
        self.name = path.name
        self.document = ezdxf.readfile(path)
        self.cuts = []  # (layer, ring, polygon), open lines left out
        for entity in self.document.modelspace():
            for curve in dxf_curves(entity):
                if isinstance(curve, Ring):
                    self.cuts.append((entity.dxf.layer, curve, curve.polygon()))

    def on(self, prefix):
        pattern = re.compile(rf"{prefix}(-\d+)?$")
        return [i for i, (layer, _, _) in enumerate(self.cuts) if pattern.match(layer)]


class Checks:
    def __init__(self, out, order):
        self.nest = json.loads((out / "nest.json").read_text())
        self.sheets = self.nest["sheets"]
        self.order = order
        self.out = out
        self.files = {}
        for sheet in self.sheets:
            path = out / "cut" / f"sheet-{sheet['number']:02}.dxf"
            if path.exists():
                self.files[sheet["number"]] = CutFile(path)
        self.paths = sorted((out / "cut").glob("*.dxf"))

    def placements(self):
        for sheet in self.sheets:
            for placed in sheet["placements"]:
                yield sheet, placed

    def shape_of(self, placed):
        return self.order.shapes.get((placed["kit"], placed["part"]))

    def fields(self, sheet, fail):
        """The pieces a sheet's parts may lie in: the stock, or what the saw leaves of it."""
        return pieces_after(sheet["outline"], sheet["saw_cuts"], title(sheet), fail)

    # -- each check: faults go to `fail`, the answer is a summary --

    def form(self, fail):
        if self.nest["format"] != "panelwright-nest-1" or self.nest["units"] != "mm":
            fail(f"format {self.nest['format']}, units {self.nest['units']}")

        def area(ring):
            return Polygon(ring).exterior.is_ccw

        rings = 0
        for sheet in self.sheets:
            for where, outer, holes in [
                (title(sheet), sheet["outline"], []),
                *((title(sheet, p), p["outline"], p["holes"]) for p in sheet["placements"]),
                *((f"{title(sheet)}, offcut {o['id']}", o["outline"], o["voids"]) for o in sheet["offcuts"]),
            ]:
                rings += 1 + len(holes)
                polygon = Polygon(outer, holes)
                if not polygon.is_valid:
                    fail(f"{where}: outline crosses itself or a hole")
                if not area(outer):
                    fail(f"{where}: outline runs clockwise")
                if any(r[0] == r[-1] for r in [outer, *holes]):
                    fail(f"{where}: a ring repeats its first point")
        return f"{len(self.sheets)} sheets, {rings} rings"

    def counts(self, fail):
        placed = Counter((p["kit"], p["part"]) for _, p in self.placements())
        missing = Counter()
        for m in self.nest["not_placed"]:
            missing[(m["kit"], m["part"])] += m["quantity"]
        for key in sorted(set(placed) | set(missing) | set(self.order.wanted)):
            want, found, left = self.order.wanted[key], placed[key], missing[key]
            if found + left != want:
                fail(f"{key[1]} of {key[0]}: {want} ordered, {found} placed, {left} missing")
        copies = Counter((p["kit"], p["part"], p["copy"]) for _, p in self.placements())
        for key, count in copies.items():
            if count > 1:
                fail(f"{key[1]} copy {key[2]} is placed {count} times")
        ordered = sum(self.order.wanted.values())
        return f"{ordered} ordered, {sum(placed.values())} placed, {sum(missing.values())} missing"

    def kits(self, fail):
        """Kits complete after each sheet, and the lots they come from where one was asked for."""
        kits, lots = {}, {}
        for sheet in self.sheets:
            source = sheet["source"]
            lot = source.get("lot") or (source["kind"], source["id"])
            for placed in sheet["placements"]:
                if placed.get("kit_number"):
                    key = (placed["kit"], placed["kit_number"])
                    kits.setdefault(key, Counter())[placed["part"]] += 1
                    lots.setdefault((*key, sheet["material"]), set()).add(lot)
            complete = sum(parts == self.order.content.get(kit) for (kit, _), parts in kits.items())
            if complete != sheet["kits_complete"]:
                fail(f"{title(sheet)}: {sheet['kits_complete']} kits stated, {complete} are complete")
        for (kit, number), parts in kits.items():
            if number > self.order.kits[kit] or parts - self.order.content.get(kit, Counter()):
                fail(f"kit {number} of {kit} was not ordered, or has parts too many")
        if any(c["option"] == "--one-lot" for c in self.nest.get("choices", [])):
            for (kit, number, material), found in lots.items():
                if len(found) > 1:
                    fail(f"kit {number} of {kit}: {material} comes from {len(found)} lots")
        return f"{self.nest['totals']['kits_complete']} of {sum(self.order.kits.values())} complete"

    def stock(self, fail):
        """Sheets are in stock and of the right size, remnants are taken once, materials match."""
        taken, unit = Counter(), self.order.unit
        for sheet in self.sheets:
            kind, identity = sheet["source"]["kind"], sheet["source"]["id"]
            taken[(kind, identity)] += 1
            if kind == "sheet":
                entry = next((s for s in self.order.shop["sheets"] if s["id"] == identity), None)
                polygon = entry and box(0, 0, entry["length"] * unit, entry["width"] * unit)
                most = entry and entry.get("stock")
            else:
                entry, scale = self.order.remnants.get(identity, (None, 1.0))
                if entry is None:
                    continue  # it may stand in a rack file, which is not read here
                ring = entry.get("outline") or box(0, 0, entry["length"], entry["width"]).exterior.coords
                polygon = Polygon([(x * scale, y * scale) for x, y in ring])
                most = 1
            if entry is None:
                fail(f"{title(sheet)}: the shop has no {kind} {identity}")
                continue
            if polygon.symmetric_difference(Polygon(sheet["outline"])).area > LENGTH * polygon.length:
                fail(f"{title(sheet)}: the outline is not that of {identity}")
            if entry["material"] != sheet["material"]:
                fail(f"{title(sheet)}: {identity} is {entry['material']}, not {sheet['material']}")
            if most is not None and taken[(kind, identity)] > most:
                fail(f"{title(sheet)}: more of {identity} taken than the {most} there are")
            for placed in sheet["placements"]:
                part = self.order.parts.get((placed["kit"], placed["part"]))
                if part and self.order.material(part) != sheet["material"]:
                    fail(f"{title(sheet, placed)}: is to be of {self.order.material(part)}")
                if part and not self.turn_allowed(part, placed["angle"], entry, kind):
                    fail(f"{title(sheet, placed)}: may not lie at {placed['angle']} degrees")
        return f"{sum(taken.values())} pieces of stock of {len(taken)} kinds"

    def turn_allowed(self, part, angle, entry, kind):
        step = {"none": 360, "half": 180, "quarter": 90, "free": 0}[part.get("turn", "quarter")]

        def multiple(value, of):
            off = value % of
            return min(off, of - off) < 1e-6

        if step and not multiple(angle, step):
            return False
        material = next(m for m in self.order.shop["materials"] if m["name"] == entry["material"])
        grain = {"along": 0, "across": 90}.get(part.get("grain", "any"))
        if grain is None or not material.get("grain"):
            return True
        stock = 0 if kind == "sheet" else entry.get("grain_deg", 0)
        return multiple(grain + angle - stock, 180)

    def congruence(self, fail):
        """Each placed outline is the drawing's, turned and moved as it says, and never less."""
        worst = 0.0
        for sheet, placed in self.placements():
            shape = self.shape_of(placed)
            if shape is None:
                continue
            free = FIT if any(r.approximate for r in shape.rings()) else 0.0
            true = shape.placed(placed["angle"], placed["origin"]).polygon()
            shown = polygon_of(placed)
            if len(placed["holes"]) != len(shape.holes):
                fail(f"{title(sheet, placed)}: {len(placed['holes'])} holes, drawn with {len(shape.holes)}")
            # shapely's circles are cut by chords too, hence a little on both sides.
            less = true.buffer(-(0.005 + free)).difference(shown).area
            more = shown.difference(true.buffer(COVER + 0.005 + free)).area
            worst = max(worst, abs(shown.area - true.area) / true.length)
            if less > 1e-6 or more > 1e-6:
                fail(f"{title(sheet, placed)}: not the outline of its drawing")
        return f"outlines {worst:.4f} mm wider than drawn at most, on average round a part"

    def overlaps(self, fail):
        pairs = 0
        least = math.inf
        for sheet in self.sheets:
            polygons = [polygon_of(p) for p in sheet["placements"]]
            if not polygons:
                continue
            tree = STRtree(polygons)
            reach = sheet["gap"] + 1.0
            for i, polygon in enumerate(polygons):
                for j in tree.query(polygon.buffer(reach, join_style="mitre").envelope):
                    if j <= i:
                        continue
                    pairs += 1
                    a, b = sheet["placements"][i], sheet["placements"][j]
                    both = f"{title(sheet, a)} and {b['part']} copy {b['copy']}"
                    shared = polygon.intersection(polygons[j]).area
                    if shared > 1e-6:
                        fail(f"{both} overlap by {shared:.3f} mm2")
                        continue
                    distance = polygon.distance(polygons[j])
                    least = min(least, distance - sheet["gap"])
                    if distance < sheet["gap"] - LENGTH:
                        fail(f"{both} are {distance:.3f} mm apart, not {sheet['gap']}")
        return f"{pairs} pairs looked at, least gap {least:+.4f} mm against what was asked for"

    def margins(self, fail):
        """Parts lie within their stock or blank and away from its edge, voids, flaws and clamps."""
        least = math.inf
        for sheet in self.sheets:
            zones = [Polygon(z["outline"]) for z in sheet.get("keep_clear", [])]
            voids = unary_union([Polygon(v) for v in sheet["voids"]] + zones)
            sawn = sheet["method"] == "guillotine"
            # Sawn parts are held to the edge of the stock here, and to their own pieces below.
            pieces = [Polygon(sheet["outline"])] if sawn else self.fields(sheet, fail)
            for placed in sheet["placements"]:
                polygon = polygon_of(placed)
                solid = Polygon(placed["outline"])
                home = [p for p in pieces if p.buffer(LENGTH).contains(polygon)]
                if not home:
                    fail(f"{title(sheet, placed)}: not within one piece of the stock")
                    continue
                if polygon.intersection(voids).area > 1e-6:
                    fail(f"{title(sheet, placed)}: lies on a void, flaw or clamp")
                distances = [solid.distance(home[0].exterior)]
                if not voids.is_empty:
                    distances.append(polygon.distance(voids))
                least = min(least, min(distances) - sheet["margin"])
                if min(distances) < sheet["margin"] - LENGTH:
                    fail(f"{title(sheet, placed)}: {min(distances):.3f} mm from an edge, not {sheet['margin']}")
        return f"least margin {least:+.4f} mm against what was asked for"

    def saw(self, fail):
        """Saw cuts run edge to edge and free every sawn part to size; blanks fit the bed."""
        cuts = 0
        for sheet in self.sheets:
            cuts += len(sheet["saw_cuts"])
            pieces = self.fields(sheet, fail)
            machine = self.order.machine(sheet["machine"])
            if machine is None:
                fail(f"{title(sheet)}: the shop has no machine {sheet['machine']}")
                continue
            stages = max((c["stage"] for c in sheet["saw_cuts"]), default=0)
            if sheet["method"] != "guillotine":
                bed = machine.get("bed")
                for piece in pieces:
                    used = any(piece.buffer(LENGTH).contains(polygon_of(p)) for p in sheet["placements"])
                    left, low, right, top = piece.bounds
                    size = sorted((right - left, top - low))
                    if used and bed and any(s > b * self.order.unit + LENGTH for s, b in zip(size, sorted(bed))):
                        fail(f"{title(sheet)}: a piece of {size} mm does not fit the bed of {machine['name']}")
                continue
            if machine.get("stages") and stages > machine["stages"]:
                fail(f"{title(sheet)}: {stages} stages, the saw is to have {machine['stages']} at most")
            taken = set()
            for placed in sheet["placements"]:
                sawn = box(*Polygon(placed["outline"]).bounds)
                fit = [
                    i
                    for i, piece in enumerate(pieces)
                    if max(abs(a - b) for a, b in zip(piece.bounds, sawn.bounds)) <= LENGTH
                    and abs(piece.area - sawn.area) <= LENGTH * sawn.length
                ]
                if not fit:
                    fail(f"{title(sheet, placed)}: no piece of its size is left by the saw")
                elif fit[0] in taken:
                    fail(f"{title(sheet, placed)}: shares its piece with another part")
                taken.update(fit[:1])
        return f"{cuts} cuts replayed"

    def offcuts(self, fail):
        count = 0
        for sheet in self.sheets:
            stock = Polygon(sheet["outline"]).buffer(LENGTH)
            parts = unary_union([polygon_of(p) for p in sheet["placements"]])
            shapes = [(o, Polygon(o["outline"], o["voids"])) for o in sheet["offcuts"]]
            for i, (offcut, polygon) in enumerate(shapes):
                where = f"{title(sheet)}, offcut {offcut['id']}"
                count += 1
                if not stock.contains(polygon):
                    fail(f"{where}: not within the stock")
                if polygon.intersection(parts).area > LENGTH * polygon.length:
                    fail(f"{where}: overlaps a part")
                if abs(polygon.area - offcut["area"]) > SHARE * polygon.area:
                    fail(f"{where}: area {offcut['area']}, measured {polygon.area:.1f}")
                for other, shape in shapes[i + 1 :]:
                    if polygon.intersection(shape).area > LENGTH * polygon.length:
                        fail(f"{where}: overlaps offcut {other['id']}")
        return f"{count} offcuts"

    def sums(self, fail):
        """Areas and yields against sums from the drawings and the cut files."""
        totals, drawn = self.nest["totals"], 0.0
        for _, placed in self.placements():
            shape = self.shape_of(placed)
            drawn += shape.area() if shape else 0.0
        cut = 0.0
        for file in self.files.values():
            outer = file.on("PW-OUTSIDE")
            cut += sum(file.cuts[i][1].area() for i in outer)
            cut -= sum(file.cuts[i][1].area() for i in file.on("PW-INSIDE"))
            # A sawn rectangle with an outside cut in it is counted by that cut.
            for i in file.on("PW-SAWN"):
                if not any(file.cuts[i][2].buffer(LENGTH).contains(file.cuts[j][2]) for j in outer):
                    cut += file.cuts[i][1].area()
        taken = sum(
            Polygon(s["outline"]).area for s in self.sheets
        )
        kept = sum(o["area"] for s in self.sheets for o in s["offcuts"] if o["kept"])

        def near(name, found, want):
            if abs(found - want) > SHARE * abs(want) + 1e-9:
                fail(f"{name}: {found}, should be {want}")

        near("totals.part_area, from the drawings", totals["part_area"], drawn)
        near("totals.part_area, from the cut files", totals["part_area"], cut)
        near("totals.kept_area", totals["kept_area"], kept)
        # Voids of the stock, which are not flaws, may have been taken off.
        if totals["taken_area"] > taken * (1 + SHARE):
            fail(f"totals.taken_area: {totals['taken_area']}, the outlines add up to {taken}")
        if totals["taken_area"]:
            near("totals.yield", totals["yield"], totals["part_area"] / totals["taken_area"])
            rest = totals["taken_area"] - totals["kept_area"]
            near("totals.net_yield", totals["net_yield"], totals["part_area"] / rest)
        if totals["least_spend"] > totals["spend"] + 1e-6:
            fail(f"least spend {totals['least_spend']} is above the spend {totals['spend']}")
        for sheet in self.sheets:
            shapes = [self.shape_of(p) for p in sheet["placements"]]
            area = sum(s.area() for s in shapes if s)
            whole = Polygon(sheet["outline"]).area
            holes = sum(Polygon(v).area for v in sheet["voids"])
            low, high = area / whole, area / max(whole - holes, 1e-9)
            if not low * (1 - SHARE) <= sheet["yield"] <= high * (1 + SHARE):
                fail(f"{title(sheet)}: yield {sheet['yield']}, measured {low:.6f}")
            if sheet["yield"] > sheet["yield_ceiling"] + 1e-6:
                fail(f"{title(sheet)}: yield above its ceiling {sheet['yield_ceiling']}")
        return f"parts {drawn / 1e6:.4f} m2 in the drawings, {totals['part_area'] / 1e6:.4f} m2 in the nest"

    def audit(self, fail):
        """Every DXF passes the audit, is in millimetres; every SVG is well formed."""
        fixes = 0
        for path in self.paths:
            document = ezdxf.readfile(path)
            auditor = document.audit()
            fixes += len(auditor.fixes)
            for error in auditor.errors:
                fail(f"{path.name}: {error.message}")
            if document.header.get("$INSUNITS") != 4:
                fail(f"{path.name}: $INSUNITS is {document.header.get('$INSUNITS')}, not 4")
            if document.header.get("$MEASUREMENT") != 1:
                fail(f"{path.name}: $MEASUREMENT is {document.header.get('$MEASUREMENT')}, not 1")
        pictures = sorted((self.out / "cut").glob("*.svg"))
        for path in pictures:
            try:
                root = ElementTree.parse(path).getroot()
                if not root.get("width", "").endswith("mm"):
                    fail(f"{path.name}: width is {root.get('width')}, not in mm")
            except ElementTree.ParseError as error:
                fail(f"{path.name}: {error}")
        for sheet in self.sheets:
            if sheet["number"] not in self.files:
                fail(f"{title(sheet)}: no cut file")
        return f"{len(self.paths)} DXF with {fixes} corrections, {len(pictures)} SVG"

    def cuts(self, fail):
        """The cut file of a sheet holds the parts' true outlines, arcs as arcs, inside cuts first."""
        arcs = 0
        for sheet in self.sheets:
            file = self.files.get(sheet["number"])
            if file is None:
                continue
            free = {"inside": set(file.on("PW-INSIDE")), "outside": set(file.on("PW-OUTSIDE"))}
            sawn = set(file.on("PW-SAWN"))
            inner, outer = {}, {}

            def take(ring, among, name):
                polygon = ring.polygon()
                slack = (FIT if ring.approximate else 0.005) * polygon.length
                x, y = polygon.centroid.coords[0]
                for i in sorted(among):
                    found = file.cuts[i][2]
                    if math.dist((x, y), found.centroid.coords[0]) > 0.1:
                        continue
                    if polygon.symmetric_difference(found).area <= slack:
                        self.same_arcs(ring, file.cuts[i][1], f"{file.name}, {name}", fail)
                        among.discard(i)
                        return i
                fail(f"{file.name}, {name}: its cut is not there")
                return None

            for k, placed in enumerate(sheet["placements"]):
                shape = self.shape_of(placed)
                if shape is None:
                    continue
                true = on_bed(sheet, shape.placed(placed["angle"], placed["origin"]))
                name = f"{placed['part']} copy {placed['copy']}"
                inner[k] = [take(h, free["inside"], f"inside cut of {name}") for h in true.holes]
                rectangle = sheet["method"] == "guillotine" and true.is_rectangle()
                among = sawn if rectangle else free["outside"]
                outer[k] = take(true.outer, among, f"outline of {name}")
                late = [i for i in inner[k] if i is not None and outer[k] is not None and i > outer[k]]
                if late:
                    fail(f"{file.name}, {name}: {len(late)} inside cuts come after its outline")
                arcs += sum(1 for r in true.rings() for _, _, b in r.points if b)
            for what, left in free.items():
                if left:
                    fail(f"{file.name}: {len(left)} {what} cuts belong to no part")
            self.windows(sheet, file, inner, outer, fail)
        return f"{arcs} arcs of drawings looked for"

    def same_arcs(self, ring, found, name, fail):
        if ring.approximate:
            if found.sweep() == 0.0:
                fail(f"{name}: curves were drawn, lines are cut")
        elif abs(ring.sweep() - found.sweep()) > 1e-6 * max(1.0, ring.sweep()):
            fail(f"{name}: arcs of {ring.sweep():.6f} rad drawn, {found.sweep():.6f} rad cut")

    def windows(self, sheet, file, inner, outer, fail):
        """A part in a window is cut before the window, in the file and by the depth of its layer."""

        def depth(i):
            last = file.cuts[i][0].rsplit("-", 1)[-1]
            return int(last) if last.isdigit() else 0

        for k, own in outer.items():
            if own is None:
                continue
            for other, windows in inner.items():
                for i in windows:
                    if other == k or i is None or not file.cuts[i][2].contains(file.cuts[own][2]):
                        continue
                    name = sheet["placements"][k]["part"]
                    if own > i:
                        fail(f"{file.name}, {name}: cut after the window it lies in")
                    if depth(own) <= depth(i):
                        fail(f"{file.name}, {name}: on a layer that is cut with the window it lies in")

    def beds(self, fail):
        """What goes onto a machine whole fits its bed as it is drawn, with the machine's clamps where they are."""
        count = zones = 0
        for sheet in self.sheets:
            file, machine = self.files.get(sheet["number"]), self.order.machine(sheet["machine"])
            if sheet["method"] == "guillotine" or sheet["saw_cuts"] or not file or not machine:
                continue
            count += 1
            unit = self.order.unit
            edges = file.on("PW-EDGE")
            left, low, right, top = file.cuts[edges[0]][2].bounds
            bed = [b * unit for b in machine.get("bed", [math.inf, math.inf])]
            if right - left > bed[0] + LENGTH or top - low > bed[1] + LENGTH:
                fail(f"{file.name}: {right - left:.1f} x {top - low:.1f} mm, the bed of {machine['name']} is {bed}")
            clear = []
            for area in machine.get("keep_clear", []):
                ring = area.get("outline") or box(
                    *area["at"], area["at"][0] + area["length"], area["at"][1] + area["width"]
                ).exterior.coords
                clear.append(Polygon([(x * unit + left, y * unit + low) for x, y in ring]))
            clear = unary_union(clear).buffer(LENGTH)
            for i in file.on("PW-ZONE"):
                zones += 1
                if not clear.contains(file.cuts[i][2]):
                    fail(f"{file.name}: an area kept clear is not where {machine['name']} has one")
            for i in file.on("PW-OUTSIDE"):
                if file.cuts[i][2].intersection(clear).area > LENGTH * file.cuts[i][2].length:
                    fail(f"{file.name}: a part lies on what {machine['name']} needs free")
        return f"{count} sheets laid whole, {zones} areas kept clear on them"

    def blanks(self, fail):
        """The files of blanks hold the cuts of their sheet between them, no more and no fewer."""
        count = 0
        for sheet in self.sheets:
            whole = self.files.get(sheet["number"])
            paths = sorted((self.out / "cut").glob(f"sheet-{sheet['number']:02}-blank-*.dxf"))
            count += len(paths)
            if whole is None or not paths:
                continue
            files = [CutFile(p) for p in paths]
            for prefix in ("PW-INSIDE", "PW-OUTSIDE"):
                want = sorted(round(whole.cuts[i][1].area(), 3) for i in whole.on(prefix))
                found = sorted(round(f.cuts[i][1].area(), 3) for f in files for i in f.on(prefix))
                if len(want) != len(found) or any(abs(a - b) > 0.01 for a, b in zip(want, found)):
                    fail(f"{title(sheet)}: {prefix} of the blanks differ from the sheet's")
            for file in files:
                edge = unary_union([file.cuts[i][2] for i in file.on("PW-EDGE")[:1]])
                if any(abs(v) > LENGTH for v in edge.bounds[:2]):
                    fail(f"{file.name}: the blank's corner is not at the origin")
                for i in file.on("PW-OUTSIDE"):
                    distance = file.cuts[i][2].distance(edge.exterior)
                    if not edge.contains(file.cuts[i][2]) or distance < sheet["margin"] - LENGTH:
                        fail(f"{file.name}: a part is {distance:.3f} mm from the edge, or beyond it")
        return f"{count} blanks"


    def finish(self, fail):
        """Each part that is sawn first and then finished has a file, in its corner."""
        wanted = Counter()
        for sheet, placed in self.placements():
            part = self.order.parts.get((placed["kit"], placed["part"]), {})
            if sheet["method"] == "guillotine" and part.get("route") == "saw-then-router":
                wanted[(placed["kit"], placed["part"])] += 1
        left = dict.fromkeys(wanted)
        paths = sorted((self.out / "cut").glob("finish-*.dxf"))
        for path in paths:
            file = CutFile(path)
            sawn, inside, outside = (file.on(f"PW-{n}") for n in ("SAWN", "INSIDE", "OUTSIDE"))
            if len(sawn) != 1 or any(abs(v) > LENGTH for v in file.cuts[sawn[0]][2].bounds[:2]):
                fail(f"{file.name}: no sawn size in the corner")
                continue
            if inside and outside and max(inside) > min(outside):
                fail(f"{file.name}: inside cuts come after the outline")
            area = file.cuts[(outside or sawn)[0]][1].area() - sum(file.cuts[i][1].area() for i in inside)

            def same(key):
                shape = self.order.shapes[key]
                box_area = shape.outer.polygon().envelope.area
                return (
                    abs(shape.area() - area) <= SHARE * area
                    and abs(box_area - file.cuts[sawn[0]][1].area()) <= SHARE * box_area
                    and len(shape.holes) == len(inside)
                )

            match = next((key for key in left if same(key)), None)
            if match is None:
                fail(f"{file.name}: is no part that is to be finished")
            else:
                del left[match]
        for kit, part in left:
            fail(f"{part} of {kit}: no file to finish it by")
        return f"{len(paths)} files for {len(wanted)} parts"


def all_checks(checks):
    return {
        "form of nest.json": checks.form,
        "counts against the order": checks.counts,
        "kits": checks.kits,
        "stock, materials and turns": checks.stock,
        "outlines against the drawings": checks.congruence,
        "overlap and gap": checks.overlaps,
        "margin": checks.margins,
        "saw cuts": checks.saw,
        "offcuts": checks.offcuts,
        "areas and yields": checks.sums,
        "cut files can be read": checks.audit,
        "cuts of the sheets": checks.cuts,
        "cut files on the bed": checks.beds,
        "files of blanks": checks.blanks,
        "files to finish sawn parts": checks.finish,
    }


def main(arguments):
    return run(__doc__, arguments, Checks, all_checks)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
