"""Shapes of parts, read without the program: drawings through ezdxf or a small SVG reader,
rectangles from their features.

Lengths are millimetres, y up. A ring is a list of (x, y, bulge); the bulge, the tangent of a quarter
of the sweep, belongs to the segment that starts there (DXF reference, LWPOLYLINE group 42).
"""

import math
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass, field

import ezdxf
from shapely import affinity
from shapely.geometry import Polygon

CHORD = 0.002  # how far flattened arcs here may be from the true ones
JOIN = 0.05  # ends nearer than this are the same end
QUARTER = math.tan(math.pi / 8)
MM_PER_UNIT = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 14: 100.0}
NOT_CUT = {"mark", "marks", "score", "engrave", "ignore", "notes", "dimensions", "text", "defpoints"}


@dataclass
class Ring:
    """A closed chain of lines and arcs."""

    points: list
    approximate: bool = False  # a spline or ellipse stands here as many short lines

    def segments(self):
        n = len(self.points)
        for i, (x, y, bulge) in enumerate(self.points):
            ex, ey, _ = self.points[(i + 1) % n]
            yield (x, y), (ex, ey), bulge

    def area(self):
        """Exact and positive: shoelace formula plus circular caps."""
        total = 0.0
        for (ax, ay), (bx, by), bulge in self.segments():
            total += 0.5 * (ax * by - bx * ay)
            chord = math.hypot(bx - ax, by - ay)
            if bulge and chord:
                sweep = 4 * math.atan(bulge)
                radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
                total += 0.5 * radius * radius * (sweep - math.sin(sweep))
        return abs(total)

    def sweep(self):
        """All turning of its arcs, radians. Splitting or joining arcs does not change it."""
        return sum(4 * math.atan(abs(b)) for _, _, b in self.points)

    def coordinates(self):
        out = []
        for (ax, ay), (bx, by), bulge in self.segments():
            out.append((ax, ay))
            chord = math.hypot(bx - ax, by - ay)
            if not bulge or not chord:
                continue
            sweep = 4 * math.atan(bulge)
            radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
            away = chord * (1 - bulge * bulge) / (4 * bulge) / chord
            cx = (ax + bx) / 2 - (by - ay) * away
            cy = (ay + by) / 2 + (bx - ax) * away
            step = 2 * math.acos(max(0.0, 1 - min(CHORD / radius, 1.0)))
            count = max(2, math.ceil(abs(sweep) / step))
            start = math.atan2(ay - cy, ax - cx)
            for i in range(1, count):
                angle = start + sweep * i / count
                out.append((cx + radius * math.cos(angle), cy + radius * math.sin(angle)))
        return out

    def polygon(self):
        return Polygon(self.coordinates())

    def mapped(self, function, flips=False):
        sign = -1 if flips else 1
        return Ring([(*function(x, y), sign * b) for x, y, b in self.points], self.approximate)


@dataclass
class Shape:
    """A part: its outer ring, its holes, its lower left corner at the origin."""

    outer: Ring
    holes: list = field(default_factory=list)

    @staticmethod
    def of_rings(rings, mirrored=False):
        if not rings:
            raise ValueError("no closed outline")
        if mirrored:
            rings = [r.mapped(lambda x, y: (-x, y), flips=True) for r in rings]
        rings = sorted(rings, key=Ring.area, reverse=True)
        left, low, _, _ = rings[0].polygon().bounds
        rings = [r.mapped(lambda x, y: (x - left, y - low)) for r in rings]
        return Shape(rings[0], rings[1:])

    def rings(self):
        return [self.outer, *self.holes]

    def area(self):
        return self.outer.area() - sum(h.area() for h in self.holes)

    def polygon(self):
        return Polygon(self.outer.coordinates(), [h.coordinates() for h in self.holes])

    def placed(self, angle, origin):
        """Turned counter-clockwise by degrees, then moved."""
        turn = math.radians(angle)
        cos, sin = math.cos(turn), math.sin(turn)

        def motion(x, y):
            return cos * x - sin * y + origin[0], sin * x + cos * y + origin[1]

        return Shape(self.outer.mapped(motion), [h.mapped(motion) for h in self.holes])

    def is_rectangle(self):
        box = self.outer.polygon().envelope
        return abs(box.area - self.outer.area()) < 1e-3 * box.length


def circle(x, y, radius):
    return Ring([(x + radius, y, 1.0), (x - radius, y, 1.0)])


def box(x, y, length, width, radius=0.0):
    if radius <= 0:
        corners = [(x, y), (x + length, y), (x + length, y + width), (x, y + width)]
        return Ring([(a, b, 0.0) for a, b in corners])
    r, q = min(radius, length / 2, width / 2), QUARTER
    right, top = x + length, y + width
    points = [
        (x + r, y, 0.0), (right - r, y, q), (right, y + r, 0.0), (right, top - r, q),
        (right - r, top, 0.0), (x + r, top, q), (x, top - r, 0.0), (x, y + r, q),
    ]  # fmt: skip
    return without_empty(Ring(points))


def without_empty(ring):
    kept = [p for p, (a, b, _) in zip(ring.points, ring.segments()) if math.dist(a, b) > 1e-9]
    return Ring(kept, ring.approximate)


def slot(start, end, width):
    (ax, ay), (bx, by) = start, end
    length = math.dist(start, end)
    ux, uy = (bx - ax) / length * width / 2, (by - ay) / length * width / 2
    return Ring([
        (ax + uy, ay - ux, 0.0), (bx + uy, by - ux, 1.0),
        (bx - uy, by + ux, 0.0), (ax - uy, ay + ux, 1.0),
    ])  # fmt: skip


# ---- rectangles with features ------------------------------------------------------------------


def notched(length, width, corner_radius, notches):
    """The outer ring, walked counter-clockwise edge by edge."""
    edges = [
        ("bottom", (0, 0), (1, 0), length, False),
        ("right", (length, 0), (0, 1), width, False),
        ("top", (length, width), (-1, 0), length, True),
        ("left", (0, width), (0, -1), width, True),
    ]
    r, points = corner_radius, []
    for name, (ox, oy), (dx, dy), size, backwards in edges:

        def at(along, inward):
            return ox + along * dx - inward * dy, oy + along * dy + inward * dx

        points.append((*at(r, 0), 0.0))
        here = [n for n in notches if n["edge"] == name]
        spots = sorted((size - n["at"] if backwards else n["at"], i) for i, n in enumerate(here))
        for middle, i in spots:
            half, depth, q = here[i]["width"] / 2, here[i]["depth"], here[i].get("radius", 0.0)
            points.append((*at(middle - half, 0), 0.0))
            points.append((*at(middle - half, depth - q), -QUARTER if q else 0.0))
            points.append((*at(middle - half + q, depth), 0.0))
            points.append((*at(middle + half - q, depth), -QUARTER if q else 0.0))
            points.append((*at(middle + half, depth - q), 0.0))
            points.append((*at(middle + half, 0), 0.0))
        points.append((*at(size - r, 0), QUARTER if r else 0.0))
    return without_empty(Ring(points))


def rectangle_rings(rectangle):
    features = rectangle.get("features", [])
    notches = [f for f in features if f["kind"] == "notch"]
    corner = rectangle.get("corner_radius", 0.0)
    rings = [notched(rectangle["length"], rectangle["width"], corner, notches)]
    for f in features:
        kind = f["kind"]
        if kind == "hole":
            rings.append(circle(*f["at"], f["diameter"] / 2))
        elif kind == "hole-grid":
            for i in range(f["columns"]):
                for j in range(f["rows"]):
                    x, y = f["at"][0] + i * f["pitch"][0], f["at"][1] + j * f["pitch"][1]
                    rings.append(circle(x, y, f["diameter"] / 2))
        elif kind == "slot":
            rings.append(slot(f["from"], f["to"], f["width"]))
        elif kind == "slot-row":
            for i in range(f["count"]):
                x, y = f["at"][0] + i * f["pitch"], f["at"][1]
                rings.append(slot((x, y), (x, y + f["length"]), f["width"]))
        elif kind == "window":
            rings.append(box(*f["at"], f["length"], f["width"], f.get("corner_radius", 0.0)))
        elif kind not in ("notch", "mark"):
            raise ValueError(f"feature of unknown kind {kind}")
    return rings


# ---- chains --------------------------------------------------------------------------------------


@dataclass
class Chain:
    """An open chain: vertices as in a ring, the last one's bulge unused."""

    points: list
    approximate: bool = False

    def reversed(self):
        points, n = self.points, len(self.points)
        turned = [(points[n - 1 - i][0], points[n - 1 - i][1], -points[n - 2 - i][2]) for i in range(n - 1)]
        return Chain([*turned, (*points[0][:2], 0.0)], self.approximate)


def join(chains):
    """Rings that the chains close to; what does not close is left out."""
    rings, rest = [], list(chains)
    while rest:
        chain = rest.pop(0)
        grown = True
        while grown and math.dist(chain.points[0][:2], chain.points[-1][:2]) > JOIN:
            grown = False
            for i, other in enumerate(rest):
                for candidate in (other, other.reversed()):
                    if math.dist(chain.points[-1][:2], candidate.points[0][:2]) <= JOIN:
                        points = chain.points[:-1] + candidate.points
                        chain = Chain(points, chain.approximate or candidate.approximate)
                        del rest[i]
                        grown = True
                        break
                if grown:
                    break
        if len(chain.points) > 2 and math.dist(chain.points[0][:2], chain.points[-1][:2]) <= JOIN:
            rings.append(without_empty(Ring(chain.points[:-1], chain.approximate)))
    return rings


# ---- DXF -------------------------------------------------------------------------------------------


def dxf_curves(entity):
    """Rings and open chains of an entity in world coordinates; blocks are taken apart."""
    kind = entity.dxftype()
    if kind == "INSERT":
        for inner in entity.multi_insert() if entity.mcount > 1 else [entity]:
            for part in inner.virtual_entities():
                yield from dxf_curves(part)
        return
    down = entity.dxf.hasattr("extrusion") and entity.dxf.extrusion.z < 0
    sign = -1 if down else 1
    if kind == "LINE":
        a, b = entity.dxf.start, entity.dxf.end
        yield Chain([(a.x, a.y, 0.0), (b.x, b.y, 0.0)])
    elif kind == "ARC":
        sweep = (entity.dxf.end_angle - entity.dxf.start_angle) % 360 or 360
        a, b = entity.start_point, entity.end_point
        bulge = sign * math.tan(math.radians(sweep) / 4)
        yield Chain([(a.x, a.y, bulge), (b.x, b.y, 0.0)])
    elif kind == "CIRCLE":
        center = entity.ocs().to_wcs(entity.dxf.center)
        yield circle(center.x, center.y, entity.dxf.radius)
    elif kind == "LWPOLYLINE":
        bulges = [p[0] for p in entity.get_points("b")]
        points = [(v.x, v.y, sign * b) for v, b in zip(entity.vertices_in_wcs(), bulges)]
        yield Ring(points) if entity.closed else Chain(points)
    elif kind == "POLYLINE" and entity.is_2d_polyline:
        points = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in entity.vertices]
        yield Ring(points) if entity.is_closed else Chain(points)
    elif kind in ("SPLINE", "ELLIPSE"):
        points = [(p.x, p.y, 0.0) for p in entity.flattening(CHORD / 2)]
        yield Chain(points, approximate=True)


def dxf_rings(path, unit_of_kit=None):
    document = ezdxf.readfile(path)
    # R12 files name no unit; then the kit file has to.
    unit = MM_PER_UNIT.get(document.header.get("$INSUNITS", 0), unit_of_kit)
    if unit is None:
        raise ValueError(f"{path}: no unit, and the kit file gives none")
    curves = []
    for entity in document.modelspace():
        if entity.dxf.layer.lower() not in NOT_CUT:
            curves.extend(dxf_curves(entity))
    rings = [c for c in curves if isinstance(c, Ring)]
    rings += join([c for c in curves if isinstance(c, Chain)])
    return [r.mapped(lambda x, y: (x * unit, y * unit)) for r in rings]


# ---- SVG -------------------------------------------------------------------------------------------

TOKEN = re.compile(r"[A-Za-z]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
LENGTH = re.compile(r"([\d.eE+-]+)\s*(mm|cm|in)$")
STEPS = 400  # lines that stand for one Bezier curve


def bezier(controls):
    out = []
    for i in range(STEPS + 1):
        t, points = i / STEPS, controls
        while len(points) > 1:
            points = [
                (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))
                for a, b in zip(points, points[1:])
            ]
        out.append(points[0])
    return out


def arc_bulge(start, end, radius, large, sweep):
    """Bulge of a circular arc command, by SVG 2, section 9.5."""
    half = min(1.0, math.dist(start, end) / 2 / radius)
    turn = 2 * math.asin(half)
    if large:
        turn = 2 * math.pi - turn
    return math.tan(turn / 4) * (1 if sweep else -1)


def path_curves(d):
    tokens = TOKEN.findall(d)
    at, start, command, points, approximate, control, i = (0.0, 0.0), (0.0, 0.0), "", [], False, None, 0

    def take(count):
        nonlocal i
        values = [float(v) for v in tokens[i : i + count]]
        i += count
        return values

    while i < len(tokens):
        if tokens[i].isalpha():
            command = tokens[i]
            i += 1
        upper, relative = command.upper(), command.islower()
        ox, oy = at if relative else (0.0, 0.0)
        last, control = control, None
        if upper == "Z":
            if len(points) > 1:
                if math.dist(points[0][:2], points[-1][:2]) < 1e-9:
                    points.pop()
                yield Ring(points, approximate)
            points, approximate, at = [], False, start
            continue
        if upper == "M":
            if len(points) > 1:
                yield Chain(points, approximate)
            x, y = take(2)
            at = start = (x + ox, y + oy)
            points, approximate = [(*at, 0.0)], False
            command = "l" if relative else "L"
            continue
        if not points:
            points = [(*at, 0.0)]
        if upper in "LHV":
            if upper == "L":
                x, y = take(2)
                at = (x + ox, y + oy)
            elif upper == "H":
                at = (take(1)[0] + ox, at[1])
            else:
                at = (at[0], take(1)[0] + oy)
            points.append((*at, 0.0))
        elif upper == "A":
            rx, ry, _, large, sweep, x, y = take(7)
            if rx != ry:
                raise ValueError("elliptic arcs are not read here")
            end = (x + ox, y + oy)
            points[-1] = (*points[-1][:2], arc_bulge(at, end, rx, large, sweep))
            at = end
            points.append((*at, 0.0))
        elif upper in "CSQT":
            values = take({"C": 6, "S": 4, "Q": 4, "T": 2}[upper])
            pairs = [(values[k] + ox, values[k + 1] + oy) for k in range(0, len(values), 2)]
            if upper in "ST":
                pairs.insert(0, (2 * at[0] - last[0], 2 * at[1] - last[1]) if last else at)
            curve = bezier([at, *pairs])
            points.extend((*p, 0.0) for p in curve[1:])
            control, at, approximate = pairs[-2], pairs[-1], True
        else:
            raise ValueError(f"path command {command} is not read here")
    if len(points) > 1:
        yield Chain(points, approximate)


def svg_curves(node):
    tag = node.tag.rsplit("}", 1)[-1]
    if node.get("id", "").lower() in NOT_CUT or tag in ("text", "title", "desc", "defs"):
        return
    if node.get("transform"):
        raise ValueError("transforms are not read here")

    def number(name):
        return float(node.get(name, 0))

    if tag == "rect":
        radius = number("rx") or number("ry")
        yield box(number("x"), number("y"), number("width"), number("height"), radius)
    elif tag == "circle":
        yield circle(number("cx"), number("cy"), number("r"))
    elif tag == "path":
        yield from path_curves(node.get("d"))
    elif tag == "line":
        yield Chain([(number("x1"), number("y1"), 0.0), (number("x2"), number("y2"), 0.0)])
    elif tag in ("polygon", "polyline"):
        values = [float(v) for v in TOKEN.findall(node.get("points"))]
        points = [(values[k], values[k + 1], 0.0) for k in range(0, len(values), 2)]
        yield Ring(points) if tag == "polygon" else Chain(points)
    for child in node:
        yield from svg_curves(child)


def svg_rings(path):
    root = ElementTree.parse(path).getroot()
    value, unit = LENGTH.match(root.get("width")).groups()
    view = [float(v) for v in root.get("viewBox").replace(",", " ").split()]
    scale = float(value) * {"mm": 1.0, "cm": 10.0, "in": 25.4}[unit] / view[2]
    curves = list(svg_curves(root))
    rings = [c for c in curves if isinstance(c, Ring)]
    rings += join([c for c in curves if isinstance(c, Chain)])
    # y points down in SVG.
    return [r.mapped(lambda x, y: (x * scale, -y * scale), flips=True) for r in rings]


def part_shape(part, folder, unit):
    """The shape of an entry of a kit file that lies in `folder`."""
    if "drawing" in part:
        path = folder / part["drawing"]
        if path.suffix.lower() == ".svg":
            rings = svg_rings(path)
        else:
            rings = dxf_rings(path, {"mm": 1.0, "inch": 25.4}.get(part.get("drawing_units")))
    else:
        rings = [
            r.mapped(lambda x, y: (x * unit, y * unit)) for r in rectangle_rings(part["rectangle"])
        ]
    return Shape.of_rings(rings, part.get("mirrored", False))


def turned(polygon, angle, origin):
    """A polygon turned about the origin by degrees, then moved."""
    return affinity.translate(affinity.rotate(polygon, angle, origin=(0, 0)), *origin)
