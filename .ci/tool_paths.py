#!/usr/bin/env python3
"""Checks tool paths in cut files with other people's geometry: shapely, ezdxf and arithmetic of its own.

    tool_paths.py OUT_DIR DATA_DIR ORDER.json

OUT_DIR is what `panelwright nest` wrote with `--lines tool-path`, or with that in the shop file. Parts
are read from the drawings and kit files anew. Prints one line for each check and one for each fault;
the exit code is 0 when there was none, 1 when there was one, 2 when something could not be read.
"""

import math
import re
import sys
from pathlib import Path

import ezdxf
import numpy
import shapely
from shapely import STRtree
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union

from outside_checks import on_bed, run
from part_shapes import Chain, Ring, dxf_curves, turned

NEAR = 0.01  # mm: how far a path may be from half the kerf, and a finished edge from its place
FIT = 0.02  # mm: on top, for curves that are neither lines nor arcs in the drawing
STEP = 0.5  # mm between places looked at along a path
LEAD = 25.0  # mm: no lead is longer
DRILLED = 0.01  # mm: a round opening whose width is this near the tool's is drilled in its middle
CORNER = 0.02  # mm: an arc of a path whose radius is this near half the kerf turns round a corner
WORKED = re.compile(r"PW-(MARK|PATH-(INSIDE|OUTSIDE|SKIN|TAB))(-\d+)?$")


def sweep_parts(segments):
    """Segments as lists of places no further apart than STEP, exactly on lines and arcs."""
    for (ax, ay), (bx, by), bulge in segments:
        chord = math.hypot(bx - ax, by - ay)
        if not bulge:
            count = max(1, math.ceil(chord / STEP))
            yield [(ax + (bx - ax) * i / count, ay + (by - ay) * i / count) for i in range(count + 1)]
            continue
        sweep = 4 * math.atan(bulge)
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
        away = (1 - bulge * bulge) / (4 * bulge)
        cx, cy = (ax + bx) / 2 - (by - ay) * away, (ay + by) / 2 + (bx - ax) * away
        start = math.atan2(ay - cy, ax - cx)
        count = max(2, math.ceil(radius * abs(sweep) / STEP), math.ceil(abs(sweep) / 0.04))
        angles = [start + sweep * i / count for i in range(count + 1)]
        yield [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in angles]


def segments_of(curve):
    points = curve.points
    count = len(points) if isinstance(curve, Ring) else len(points) - 1
    for i in range(count):
        x, y, bulge = points[i]
        ex, ey, _ = points[(i + 1) % len(points)]
        yield (x, y), (ex, ey), bulge


def length_of(curve):
    total = 0.0
    for (ax, ay), (bx, by), bulge in segments_of(curve):
        chord = math.hypot(bx - ax, by - ay)
        sweep = 4 * math.atan(abs(bulge))
        total += chord * (1 + bulge * bulge) / (4 * abs(bulge)) * sweep if bulge else chord
    return total


def ends(curve):
    """Where the tool comes down and where it lifts. A circle has no start of its own."""
    first = curve.points[0][:2]
    return first, first if isinstance(curve, Ring) else curve.points[-1][:2]


def arcs_of(segments):
    """Arcs as (centre, radius), each circle's neighbouring pieces counted once, all round."""
    found = []
    for (ax, ay), (bx, by), bulge in segments:
        chord = math.hypot(bx - ax, by - ay)
        if not bulge or chord < 1e-6:
            found.append(None)
            continue
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
        away = (1 - bulge * bulge) / (4 * bulge)
        found.append(((ax + bx) / 2 - (by - ay) * away, (ay + by) / 2 + (bx - ax) * away, radius))

    def same(a, b):
        return a and b and math.dist(a, b) < 0.01

    arcs = [a for a, before in zip(found, found[-1:] + found[:-1]) if a and not same(a, before)]
    if not arcs and found and found[0]:
        arcs = [found[0]]
    return arcs


class Nearest:
    """Finds the nearest of many lines, edge by edge."""

    def __init__(self, lines):
        corners = [shapely.get_coordinates(line) for line in lines]
        edges = numpy.concatenate([numpy.stack([c[:-1], c[1:]], axis=1) for c in corners])
        self.line_of = numpy.repeat(numpy.arange(len(lines)), [len(c) - 1 for c in corners])
        self.tree = STRtree(shapely.linestrings(edges))

    def of(self, places):
        """By place: the index of the nearest line, and how far it is."""
        points = shapely.points(numpy.asarray(places, dtype=float))
        (_, edge), off = self.tree.query_nearest(points, return_distance=True, all_matches=False)
        return self.line_of[edge], off


class Sheet:
    """One sheet's file: finished edges, and passes in file order (layer, curve)."""

    def __init__(self, record, path, order):
        self.record, self.path = record, path
        self.name = path.name
        self.document = ezdxf.readfile(path)
        self.finished, self.worked, self.home = [], [], (0.0, 0.0)
        for entity in self.document.modelspace():
            layer = entity.dxf.layer
            for curve in dxf_curves(entity):
                if layer == "PW-FINISHED":
                    self.finished.append(curve)
                elif WORKED.match(layer):
                    self.worked.append((layer, curve))
        self.radius = record["kerf"] / 2
        self.shapes = []
        for placed in record["placements"]:
            shape = order.shapes[(placed["kit"], placed["part"])]
            self.shapes.append((placed, on_bed(record, shape.placed(placed["angle"], placed["origin"]))))
        self.rings = [(i, r, h > 0) for i, (_, s) in enumerate(self.shapes) for h, r in enumerate(s.rings())]
        self.lines = [LineString([*r.coordinates(), r.coordinates()[0]]) for _, r, _ in self.rings]
        self.nearest = Nearest(self.lines) if self.lines else None

    def paths(self, kind):
        pattern = re.compile(rf"PW-PATH-({kind})(-\d+)?$")
        return [(layer, curve) for layer, curve in self.worked if pattern.match(layer)]

    def owner(self, curve, inside):
        """The ring that a path runs beside: the one that most of its places are half the kerf from."""
        middle = segments_of(curve)
        pieces = [p for part in sweep_parts(middle) for p in part]
        votes = {}
        for i in self.nearest.of(pieces[:: max(1, len(pieces) // 40)])[0]:
            if self.rings[i][2] == inside:
                votes[i] = votes.get(i, 0) + 1
        return max(votes, key=votes.get) if votes else None


def size_class(area, small):
    return int(area >= small)


class Checks:
    def __init__(self, out, order):
        import json

        self.order = order
        nest = json.loads((out / "nest.json").read_text())
        self.sheets = []
        for record in nest["sheets"]:
            cutting = record.get("cutting")
            if cutting and cutting["lines"] == "tool-path":
                path = out / "cut" / f"sheet-{record['number']:02}.dxf"
                self.sheets.append(Sheet(record, path, order))
        self.paths = sorted((out / "cut").glob("*.dxf"))
        self.small = 10_000.0

    def audit(self, fail):
        fixes, versions = 0, {}
        for path in self.paths:
            document = ezdxf.readfile(path)
            auditor = document.audit()
            fixes += len(auditor.fixes)
            versions[document.dxfversion] = versions.get(document.dxfversion, 0) + 1
            for fault in [*auditor.errors, *auditor.fixes]:
                fail(f"{path.name}: {fault.message}")
        return f"{len(self.paths)} files {versions}, {fixes} corrections"

    def finished(self, fail):
        """Every finished outline lies within NEAR of its placement."""
        worst, count = 0.0, 0
        for sheet in self.sheets:
            left = [(c, LineString([*c.coordinates(), c.coordinates()[0]])) for c in sheet.finished]
            for i, (_, ring, _) in enumerate(sheet.rings):
                slack = NEAR + (FIT if ring.approximate else 0.0)
                line, found = sheet.lines[i], None
                for k, (curve, shown) in enumerate(left):
                    if any(abs(a - b) > 0.1 for a, b in zip(line.bounds, shown.bounds)):
                        continue
                    off = max(line.hausdorff_distance(shown), shown.hausdorff_distance(line))
                    places = [Point(p).distance(line) for p in curve.coordinates()]
                    off = min(off, max(places))
                    if off <= slack:
                        found = k
                        worst = max(worst, off if not ring.approximate else 0.0)
                        break
                if found is None:
                    fail(f"{sheet.name}: a finished edge at {line.bounds} is not there")
                else:
                    del left[found]
                    count += 1
            if left:
                fail(f"{sheet.name}: {len(left)} finished edges too many")
        return f"{count} edges, at most {worst:.4f} mm off"

    def distances(self, fail):
        """Paths keep half the kerf from the edges, on the scrap's side; leads never come nearer."""
        places = leads = 0
        least, most = math.inf, -math.inf
        for sheet in self.sheets:
            material = unary_union([s.polygon() for _, s in sheet.shapes])
            for layer, curve in sheet.paths("INSIDE|OUTSIDE|SKIN|TAB"):
                samples = [p for part in sweep_parts(segments_of(curve)) for p in part]
                off = []
                for p, i, distance in zip(samples, *sheet.nearest.of(samples)):
                    free = FIT if sheet.rings[i][1].approximate else 0.0
                    distance -= sheet.radius
                    off.append((distance, free))
                    if distance < -(NEAR + free):
                        fail(f"{sheet.name}, {layer}: {distance:.4f} mm too near at {p}")
                        break
                on = [abs(d) <= NEAR + free for d, free in off]
                if True not in on:
                    fail(f"{sheet.name}, {layer}: runs beside nothing at {samples[0]}")
                    continue
                first, last = on.index(True), len(on) - 1 - on[::-1].index(True)
                if not all(on[first : last + 1]):
                    k = first + on[first : last + 1].index(False)
                    fail(f"{sheet.name}, {layer}: {off[k][0]:.4f} mm off the path at {samples[k]}")
                if first * STEP > LEAD or (len(on) - 1 - last) * STEP > LEAD:
                    fail(f"{sheet.name}, {layer}: a lead is longer than {LEAD} mm")
                if (first or last < len(on) - 1) and isinstance(curve, Ring):
                    fail(f"{sheet.name}, {layer}: a closed path leaves its edge at {samples[0]}")
                leads += bool(first) + bool(last < len(on) - 1)
                places += last - first + 1
                exact = [d for d, free in off[first : last + 1] if not free]
                if exact:
                    least, most = min(least, *exact), max(most, *exact)
                for p in [samples[0], samples[len(samples) // 2], samples[-1]]:
                    if material.contains(Point(p)):
                        fail(f"{sheet.name}, {layer}: runs inside a part at {p}")
        return f"{places} places, {least:+.4f} to {most:+.4f} mm against half the kerf; {leads} leads"

    def whole(self, fail):
        """Round every edge the tool runs along all that shapely's offset says it can reach."""
        worst = 0.0
        for sheet in self.sheets:
            pieces = []
            for _, curve in sheet.paths("INSIDE|OUTSIDE|SKIN|TAB"):
                pieces.extend(LineString(part) for part in sweep_parts(segments_of(curve)))
            nearest = Nearest(pieces) if pieces else None
            gaps = sheet.record["cutting"]["tabs"] and not sheet.paths("TAB")
            for _, ring, hole in sheet.rings:
                if gaps and not hole and ring.area() < self.small:
                    continue
                solid = Polygon(ring.coordinates())
                moved = solid.buffer(-sheet.radius if hole else sheet.radius, quad_segs=90)
                middle = solid.centroid
                if hole and abs(2 * solid.exterior.hausdorff_distance(middle) - 2 * sheet.radius) <= DRILLED:
                    moved = middle.buffer(DRILLED / 2)
                if moved.is_empty or moved.geom_type != "Polygon":
                    fail(f"{sheet.name}: an edge at {solid.bounds} cannot be offset to one ring")
                    continue
                slack = NEAR + (FIT if ring.approximate else 0.0)
                line = moved.exterior
                if nearest is None:
                    fail(f"{sheet.name}: no path at all")
                    continue
                count = max(8, int(line.length / 1.0))
                places = shapely.line_interpolate_point(line, numpy.arange(count) / count, normalized=True)
                places = shapely.get_coordinates(places)
                off = nearest.of(places)[1]
                worst = max(worst, off.max())
                if off.max() > slack:
                    x, y = places[off.argmax()]
                    fail(f"{sheet.name}: no path at {x:.3f}, {y:.3f}, {off.max():.4f} mm off")
        return f"at most {worst:.4f} mm from where the tool's centre has to be"

    def arcs(self, fail):
        """Arcs in are arcs out; more only round corners, fewer only where the tool fills them."""
        drawn = out = corners = filled = 0
        for sheet in self.sheets:
            by_ring = {}
            for layer, curve in sheet.paths("INSIDE|OUTSIDE|SKIN|TAB"):
                i = sheet.owner(curve, "INSIDE" in layer)
                if i is None:
                    fail(f"{sheet.name}, {layer}: belongs to no edge")
                    continue
                for segment in segments_of(curve):
                    ends_ = [Point(p).distance(sheet.lines[i]) for p in segment[:2]]
                    if max(ends_) <= sheet.radius + NEAR:
                        by_ring.setdefault(i, []).append(segment)
            for i, (_, ring, hole) in enumerate(sheet.rings):
                if ring.approximate:
                    continue
                have = arcs_of(by_ring.get(i, []))
                unique = []
                for arc in have:
                    if not any(math.dist(arc, other) < 0.01 for other in unique):
                        unique.append(arc)
                round_corner = [a for a in unique if not hole and abs(a[2] - sheet.radius) < CORNER]
                kept = len(unique) - len(round_corner)
                want, gone = [], 0
                for arc in arcs_of(list(ring.segments())):
                    if any(math.dist(arc, other) < 0.01 for other in want):
                        continue
                    moved = [a for a in unique if math.dist(a[:2], arc[:2]) < 0.01]
                    gone += not moved and arc[2] <= sheet.radius + CORNER
                    want.append(arc)
                drawn, out = drawn + len(want), out + kept
                corners, filled = corners + len(round_corner), filled + gone
                if kept + gone != len(want) and not (round_corner and kept + gone < len(want)):
                    fail(f"{sheet.name}: {len(want)} arcs drawn, {kept} in the path at {ring.points[0][:2]}")
        return f"{drawn} arcs drawn, {out} in the paths, {filled} filled by the tool, {corners} round corners"

    def order_of_work(self, fail):
        """Marks, openings, parts in windows, outlines; small before large; nothing freed too early."""
        passes = 0
        for sheet in self.sheets:
            seen_cut, done, free = False, {}, []
            # On a sheet that is sawn into blanks first, one blank is worked after the other.
            blanks = len(list(sheet.path.parent.glob(sheet.path.stem + "-blank-?.dxf")))
            for at, (layer, curve) in enumerate(sheet.worked):
                if layer.startswith("PW-MARK"):
                    if seen_cut and blanks <= 1:
                        fail(f"{sheet.name}: a mark comes after a cut")
                    continue
                seen_cut = True
                i = sheet.owner(curve, "INSIDE" in layer)
                if i is None:
                    continue
                done.setdefault(i, []).append(at)
            passes += len(done)
            for i, (part, ring, hole) in enumerate(sheet.rings):
                if i not in done:
                    fail(f"{sheet.name}: an edge of {sheet.shapes[part][0]['part']} is not cut")
                elif not hole:
                    free.append((part, min(done[i]), max(done[i]), ring.area()))
            for part, first, _, _ in free:
                for i, (other, _, hole) in enumerate(sheet.rings):
                    if hole and other == part and i in done and max(done[i]) > first:
                        fail(f"{sheet.name}: a part is freed before its opening {i}")
            guests = set()
            for i, (part, ring, hole) in enumerate(sheet.rings):
                if not hole or i not in done:
                    continue
                window = Polygon(ring.coordinates())
                for other, _, last, _ in free:
                    if other != part and window.contains(sheet.shapes[other][1].outer.polygon()):
                        guests.add(other)
                        if last > min(done[i]):
                            fail(f"{sheet.name}: a window is cut before the part in it")
            for group in (True, False):
                row = sorted((first, size_class(area, self.small)) for part, first, _, area in free if (part in guests) == group)
                classes = [c for _, c in row]
                if blanks <= 1 and classes != sorted(classes):
                    fail(f"{sheet.name}: a large part is freed before a small one")
        return f"{passes} edges in order"

    def leads(self, fail):
        """The tool comes down and lifts clear of every part and of every kept offcut, on the stock."""
        count, on_edge = 0, 0
        for sheet in self.sheets:
            stock = Polygon(sheet.record["outline"], sheet.record["voids"])
            kept = [Polygon(o["outline"], o["voids"]) for o in sheet.record["offcuts"] if o["kept"]]
            if moved := sheet.record.get("on_bed"):
                stock, *kept = (turned(p, moved["angle"], moved["origin"]) for p in [stock, *kept])
            for layer, curve in sheet.paths("INSIDE|OUTSIDE|SKIN"):
                for p in ends(curve):
                    count += 1
                    point = Point(p)
                    distance = sheet.nearest.of([p])[1][0]
                    on_edge += distance <= sheet.radius + NEAR
                    if not stock.contains(point):
                        fail(f"{sheet.name}, {layer}: comes down beside the stock at {p}")
                    for offcut in kept:
                        if offcut.distance(point) < sheet.radius - NEAR:
                            fail(f"{sheet.name}, {layer}: cuts into a kept offcut at {p}")
        return f"{count} ends, {on_edge} of them on the path (tabs, no room)"

    def figures(self, fail):
        """Length, pierces and travel counted anew."""
        ratios, sums = [], [0.0, 0.0]
        for sheet in self.sheets:
            cutting = sheet.record["cutting"]
            marks = sum(length_of(c) for layer, c in sheet.worked if "MARK" in layer)
            cuts = sum(length_of(c) for layer, c in sheet.worked if "MARK" not in layer)
            for name, found, told in (
                ("cuts", cuts, cutting["cut_length"]),
                ("marks", marks, cutting["mark_length"]),
            ):
                if abs(found - told) > 1e-4 * max(1.0, told):
                    fail(f"{sheet.name}: {told:.3f} mm of {name} told, {found:.3f} mm found")
            travel, at, pierces = 0.0, (0.0, 0.0), 0
            for layer, curve in sheet.worked:
                start, end = ends(curve)
                travel += math.dist(at, start)
                pierces += "MARK" not in layer and math.dist(at, start) > 1e-6
                at = end
            blanks = list(sheet.path.parent.glob(sheet.path.stem + "-blank-?.dxf"))
            if not blanks:
                if abs(travel - cutting["travel"]) > 1e-3 * max(1.0, travel):
                    fail(f"{sheet.name}: {cutting['travel']:.3f} mm of travel told, {travel:.3f} mm found")
                if pierces != cutting["pierces"]:
                    fail(f"{sheet.name}: {cutting['pierces']} pierces told, {pierces} found")
            ratios.append((cutting["travel"] / max(1.0, cutting["travel_as_listed"]), sheet.name))
            sums[0] += cutting["travel"]
            sums[1] += cutting["travel_as_listed"]
        if not ratios:
            return "no sheet"
        worst = max(ratios)
        return f"travel {sums[0] / sums[1]:.1%} of the listed order, at worst {worst[0]:.1%} ({worst[1]})"


def all_checks(checks):
    named = {
        "cut files can be read": checks.audit,
        "finished edges against the drawings": checks.finished,
        "distance of the paths": checks.distances,
        "paths all round": checks.whole,
        "arcs": checks.arcs,
        "order of work": checks.order_of_work,
        "leads": checks.leads,
        "length, pierces and travel": checks.figures,
    }
    if not checks.sheets:
        named["tool paths"] = lambda fail: fail("no sheet has tool paths") or "0 sheets"
    return named


if __name__ == "__main__":
    sys.exit(run(__doc__, sys.argv[1:], Checks, all_checks))
