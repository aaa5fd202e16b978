"""The same drawings read by other people's libraries: ezdxf for DXF, svgelements for SVG, shapely for areas.

`area_and_extents(path, unit)` gives (area, (left, low, right, top), outlines, inside cuts) in millimetres, y
up, of everything that is cut.
"""

import io
import math

import ezdxf
from ezdxf import units
from shapely.geometry import Point, Polygon
from svgelements import SVG, Close, Group, Line, Move, Path, Shape, Use

JOIN = 0.05  # ends nearer than this are the same end
SAGITTA = 1e-4  # of the chords that stand for curves, millimetres
STEPS = 400  # of a curve in an SVG path, and of each span of a spline
# The program's documented default: curves on these layers are marked or left out.
NOT_CUT = {"mark", "marks", "score", "engrave", "ignore", "notes", "dimensions", "text", "defpoints"}


def area_and_extents(path, unit=None):
    chains = dxf_chains(path, unit) if path.suffix == ".dxf" else svg_chains(path, unit)
    polygons = [Polygon(ring) for ring in rings(chains)]
    for polygon in polygons:
        if not polygon.is_valid:
            raise ValueError("the outside reading crosses itself")
    area, outlines, insides = 0.0, 0, 0
    for polygon in polygons:
        corner = Point(polygon.exterior.coords[0])
        depth = sum(other.contains(corner) for other in polygons if other is not polygon)
        area += polygon.area if depth % 2 == 0 else -polygon.area
        outlines += depth % 2 == 0
        insides += depth % 2 == 1
    boxes = [p.bounds for p in polygons]
    extents = (min(b[0] for b in boxes), min(b[1] for b in boxes),
               max(b[2] for b in boxes), max(b[3] for b in boxes))
    return area, extents, outlines, insides


# ---- chains to rings ------------------------------------------------------------------------------


def is_same(a, b):
    near = lambda p, q: math.dist(p, q) <= 1e-6
    return len(a) == len(b) and (all(map(near, a, b)) or all(map(near, a, b[::-1])))


def rings(chains):
    """Chains joined at their ends. Each curve counts once, however often it is drawn."""
    closed, rest = [], []
    for chain in chains:
        if math.dist(chain[0], chain[-1]) <= JOIN and len(chain) > 2:
            if not any(is_same(chain[:-1], c) for c in closed):
                closed.append(chain[:-1])
        elif not any(is_same(chain, c) for c in rest):
            rest.append(chain)
    while rest:
        chain = rest.pop()
        while math.dist(chain[0], chain[-1]) > JOIN:
            best = min(
                ((math.dist(chain[-1], end[0]), i, end)
                 for i, other in enumerate(rest) for end in (other, other[::-1])),
                key=lambda found: found[:2], default=None)
            if best is None or best[0] > JOIN:
                raise ValueError(f"open at {chain[-1]}")
            del rest[best[1]]
            chain = chain + best[2][1:]
        closed.append(chain[:-1])
    return closed


# ---- DXF ---------------------------------------------------------------------------------------------


def dxf_chains(path, unit):
    doc = ezdxf.readfile(path)
    own = doc.header.get("$INSUNITS", 0)
    mm = units.conversion_factor(own, units.MM) if own else {"mm": 1.0, "inch": 25.4}[unit]
    out = []
    for entity in doc.modelspace():
        curves(doc, entity, entity.dxf.layer, SAGITTA / mm, out)
    return [[(mm * x, mm * y) for x, y in chain] for chain in out]


def curves(doc, entity, layer, sagitta, out):
    """Adds the chains of an entity that counts as being on `layer`."""
    kind = entity.dxftype()
    table = doc.layers.get(layer) if doc.layers.has_entry(layer) else None
    if entity.dxf.get("invisible", 0) or (table and table.is_frozen()):
        return
    if table and table.is_off() and kind != "INSERT":
        return
    if kind == "INSERT":
        inside = []
        for inner in entity.block():
            curves(doc, inner, layer if inner.dxf.layer == "0" else inner.dxf.layer, sagitta, inside)
        # Points are mapped rather than entities: ezdxf's own taking apart loses shear.
        for copy in entity.multi_insert() if entity.mcount > 1 else [entity]:
            matrix = copy.matrix44()
            out += [[(p.x, p.y) for p in matrix.transform_vertices(chain)] for chain in inside]
        return
    if layer.lower() in NOT_CUT:
        return
    if kind == "POLYLINE" and entity.dxf.flags & 4:
        # Smoothed: a frame's corners (flag 16) are not on the curve.
        chain = [v.dxf.location for v in entity.vertices if not v.dxf.flags & 16]
        out.append([(p.x, p.y) for p in (chain + chain[:1] if entity.is_closed else chain)])
    elif kind in ("LWPOLYLINE", "POLYLINE"):
        chain = []
        for piece in entity.virtual_entities():
            points = flat(piece, sagitta)
            if len(chain) > 0 and math.dist(chain[-1], points[0]) > math.dist(chain[-1], points[-1]):
                points.reverse()
            chain += points[1:] if chain else points
        # The first piece may be an arc that runs the other way.
        if len(chain) > 0:
            out.append(chain)
    elif kind in ("LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE"):
        out.append(flat(entity, sagitta))


def flat(entity, sagitta):
    if entity.dxftype() == "LINE":
        points = [entity.dxf.start, entity.dxf.end]
    elif entity.dxftype() == "SPLINE":
        points = spline_points(entity.construction_tool())
    else:
        points = list(entity.flattening(sagitta))
    return [(p.x, p.y) for p in points]


def spline_points(spline):
    """Points over the proper range of a spline; ezdxf's own flattening goes beyond it where knots are not clamped."""
    knots = list(spline.knots())
    proper = sorted(set(knots[spline.degree : len(knots) - spline.degree]))
    ts = [a + (b - a) * i / STEPS for a, b in zip(proper, proper[1:]) for i in range(STEPS)]
    return list(spline.points([*ts, proper[-1]]))


# ---- SVG ---------------------------------------------------------------------------------------------


def svg_chains(path, unit):
    # Shapes stay as written, their maps beside them: its arcs do not stand skewing.
    svg = SVG.parse(io.StringIO(path.read_bytes().decode("utf-8-sig")), ppi=96, reify=False)
    # Its results are pixels; where no unit is given they are what the caller says.
    mm = {"mm": 1.0, "inch": 25.4, None: 25.4 / 96}[unit]
    out = []
    for element in shapes(svg):
        whole = Path(element)
        for stroke in whole.as_subpaths():
            chain = []
            for segment in Path(stroke):
                if isinstance(segment, Move):
                    continue
                straight = isinstance(segment, (Line, Close))
                for t in [0.0, 1.0] if straight else [i / STEPS for i in range(STEPS + 1)]:
                    p = element.transform.point_in_matrix_space(segment.point(t))
                    point = (float(mm * p.x), float(-mm * p.y))
                    if not chain or math.dist(chain[-1], point) > 1e-9:
                        chain.append(point)
            if len(chain) > 1:
                out.append(chain)
    return out


def shapes(group):
    """The shapes of a group that are shown and cut."""
    for element in group:
        names = {element.values.get("id"), *(element.values.get("class") or "").split()}
        if {str(n).lower() for n in names} & NOT_CUT:
            continue
        if isinstance(element, (Group, Use)):
            yield from shapes(element)
        elif isinstance(element, Shape) and element.values.get("visibility") != "hidden":
            yield element
