"""DXF drawings of flat parts, one for each thing a drawing may hold, written with ezdxf.

`drawings()` yields (name, text or bytes, arguments for the program). Every drawing is a plate with holes
or a set of small parts as they come from the offices of a germination cabinet's makers.
"""

import io
import math
import random

import ezdxf
from ezdxf import bbox, enums, path, units
from ezdxf.addons import text2path
from ezdxf.enums import TextEntityAlignment
from ezdxf.math import Matrix44

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]


def new(version="R2010", unit=units.MM):
    doc = ezdxf.new(version)
    doc.header["$INSUNITS"] = unit
    return doc, doc.modelspace()


def as_text(doc):
    out = io.StringIO()
    doc.write(out)
    return out.getvalue().encode(doc.output_encoding, "dxfreplace")


def as_binary(doc):
    out = io.BytesIO()
    doc.write(out, fmt="bin")
    return out.getvalue()


def polyline(space, points, closed=True, **attribs):
    """A polyline of (x, y, bulge), in the form that the version knows."""
    points = [(p[0], p[1], p[2] if len(p) > 2 else 0.0) for p in points]
    if space.doc.dxfversion == "AC1009":
        return space.add_polyline2d(points, format="xyb", close=closed, dxfattribs=attribs)
    return space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs=attribs)


def plate(space, width=240.0, height=160.0, at=(0.0, 0.0), **attribs):
    """A rectangle with two rounded corners."""
    x, y = at
    quarter = math.tan(math.pi / 8)
    return polyline(
        space,
        [
            (x, y),
            (x + width - 20, y, quarter),
            (x + width, y + 20),
            (x + width, y + height),
            (x + 20, y + height, quarter),
            (x, y + height - 20),
        ],
        **attribs,
    )


def panel(space):
    """Plate, slot, hole, score line and a note: what most drawings are."""
    plate(space)
    polyline(space, [(40, 60), (100, 60, 1.0), (100, 84), (40, 84, 1.0)])
    space.add_circle((180, 80), 22.5)
    space.add_line((20, 120), (220, 120), dxfattribs={"layer": "SCORE"})
    space.add_text("side panel, left", height=6, dxfattribs={"insert": (60, 130)})


def loose(space, points, order, gap=0.0):
    """The sides of a polygon as single lines, shuffled and turned about, ends apart by `gap`."""
    rng = random.Random(order)
    sides = list(zip(points, points[1:] + points[:1]))
    rng.shuffle(sides)
    for a, b in sides:
        if rng.random() < 0.5:
            a, b = b, a
        shift = lambda p: (p[0] + rng.uniform(-gap, gap), p[1] + rng.uniform(-gap, gap))
        space.add_line(shift(a), shift(b))


OUTLINE = [(0, 0), (200, 0), (200, 60), (140, 60), (140, 140), (60, 140), (60, 90), (0, 90)]


def lines(space):
    loose(space, OUTLINE, 1)


def lines_with_gaps(space):
    loose(space, OUTLINE, 2, gap=0.006)


def lines_twice(space):
    loose(space, OUTLINE, 3)
    loose(space, OUTLINE, 4)
    space.add_circle((100, 40), 12)
    space.add_circle((100, 40), 12)


def lines_of_many_pieces(space):
    ring = [(100 + 80 * math.cos(t), 100 + 60 * math.sin(t)) for t in
            (math.tau * i / 400 for i in range(400))]
    loose(space, ring, 5)


def arcs(space):
    # A slot whose right end crosses 0 degrees, and a keyhole.
    space.add_line((0, 0), (150, 0))
    space.add_arc((150, 25), 25, 270, 90)
    space.add_line((150, 50), (0, 50))
    space.add_arc((0, 25), 25, 90, 270)
    space.add_arc((75, 25), 12, 30, 330)
    tip = (75 + 12 * math.cos(math.radians(30)), 25 + 6.0)
    space.add_line(tip, (95, 31))
    space.add_line((95, 31), (95, 19))
    space.add_line((95, 19), (tip[0], 19))


def arcs_beyond_a_turn(space):
    space.add_arc((0, 0), 60, -90, 90)
    space.add_arc((0, 0), 60, 450, 630)
    space.add_arc((0, 0), 20, 0, 360)


def circles(space):
    for i in range(5):
        space.add_circle((i * 130, 0), 60)
        space.add_circle((i * 130, 0), 10 + 5 * i)


def rings_in_rings(space):
    for radius in (200, 180, 140, 120, 60, 30):
        space.add_circle((300, 300), radius)


def ellipses(space):
    space.add_ellipse((0, 0), major_axis=(160, 40), ratio=0.5)
    space.add_ellipse((10, 10), major_axis=(0, 40), ratio=0.3)
    space.add_ellipse((-70, -25), major_axis=(25, 0), ratio=1.0)


def ellipse_arcs(space):
    space.add_ellipse((0, 0), (100, 0), 0.6, start_param=0, end_param=math.pi)
    space.add_line((-100, 0), (-100, -40))
    space.add_line((-100, -40), (100, -40))
    space.add_line((100, -40), (100, 0))
    # From three quarters past nought to a quarter.
    space.add_ellipse((0, 5), (30, 0), 0.5, start_param=1.5 * math.pi, end_param=2.5 * math.pi)
    space.add_line((0, -10), (0, 20))


def ellipse_from_below(space):
    for y, extrusion in ((0, (0, 0, 1)), (200, (0, 0, -1))):
        space.add_ellipse((0, y), (100, 20), 0.6, start_param=0.3, end_param=2.9,
                          dxfattribs={"extrusion": extrusion})
        ellipse = list(space)[-1]
        space.add_line(ellipse.start_point, ellipse.end_point)


def bulges(space):
    # Less and more than a half circle, to both sides.
    polyline(space, [(0, 0, 0.2), (200, 0, -0.4), (200, 120, 1.6), (120, 120), (60, 120, -0.9), (0, 120, 0.05)])
    polyline(space, [(60, 40, 1.0), (90, 40, 1.0)])


def polyline_width_and_height(space):
    p = polyline(space, [(0, 0, 0.3), (150, 0), (150, 90), (0, 90)])
    p.dxf.const_width = 3.0
    p.dxf.elevation = 0.0


def polyline_open_but_meeting(space):
    polyline(space, [(0, 0), (150, 0, 0.5), (150, 90), (0, 90), (0, 0)], closed=False)
    polyline(space, [(30, 30), (60, 30), (60, 60), (30, 60), (30, 30)], closed=True)


def old_polylines(space):
    space.add_polyline2d([(0, 0, 0, 0, 0), (200, 0, 0, 0, 0.4), (200, 120, 0, 0, 0), (0, 120, 0, 0, -0.2)],
                         format="xyseb", close=True)
    space.add_polyline2d([(40, 40), (90, 40), (90, 70), (40, 70), (40, 40)])


def old_polyline_3d(space):
    space.add_polyline3d([(0, 0, 0), (150, 0, 0), (150, 90, 0), (40, 110, 0)], close=True)


def curve_fit_polyline(space):
    """A polyline smoothed by a spline: its frame's corners (flag 16) are not on the curve."""
    frame = [(0, 0), (200, 0), (200, 120), (0, 120)]
    curve = [(100 + 90 * math.cos(t), 60 + 50 * math.sin(t)) for t in
             (math.tau * i / 48 for i in range(48))]
    p = space.add_polyline2d(frame + curve, close=True)
    p.dxf.flags |= 4
    for i, vertex in enumerate(p.vertices):
        vertex.dxf.flags = 16 if i < 4 else 8


CONTROL = [(0, 0), (60, -40), (160, 10), (200, 80), (120, 140), (60, 90), (0, 120)]


def spline(space, control=CONTROL, degree=3, knots=None, weights=None):
    s = space.add_open_spline(control, degree=degree, knots=knots)
    if weights:
        s.weights = weights
    space.add_line(control[-1], control[0])


def spline_cubic(space):
    spline(space)


def spline_quadratic(space):
    spline(space, degree=2)


def spline_quintic(space):
    spline(space, degree=5)


def spline_linear(space):
    spline(space, degree=1)


def spline_knots(space):
    spline(space, knots=[0, 0, 0, 0, 0.2, 1.7, 1.7, 3, 3, 3, 3])


def spline_weights(space):
    spline(space, weights=[1, 3, 0.4, 1, 2, 0.7, 1])


def spline_circle(space):
    w = math.sqrt(0.5)
    corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    s = space.add_spline(degree=2)
    s.control_points = [(80 * x, 80 * y, 0) for x, y in corners]
    s.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    s.weights = [1, w, 1, w, 1, w, 1, w, 1]


LOOP = [(100, 0), (180, 60), (150, 150), (60, 170), (0, 100), (30, 20)]


def spline_periodic(space):
    space.add_spline().set_closed([(x, y, 0) for x, y in LOOP])


def spline_periodic_rational(space):
    space.add_spline().set_closed_rational([(x, y, 0) for x, y in LOOP], weights=[1, 2, 1, 0.5, 1, 3])


def spline_closed_clamped(space):
    space.add_open_spline(LOOP + LOOP[:1])


def spline_unclamped(space):
    """The same curve as a periodic one, its first corners repeated, without any flag."""
    s = space.add_spline(degree=3)
    s.control_points = [(x, y, 0) for x, y in LOOP + LOOP[:3]]
    s.knots = list(range(len(LOOP) + 3 + 4))


def spline_fit_points(space):
    space.add_spline([(0, 0), (60, 30), (120, -10), (200, 20)])
    space.add_line((200, 20), (200, 120))
    space.add_line((200, 120), (0, 120))
    space.add_line((0, 120), (0, 0))


def spline_fit_points_tangents(space):
    s = space.add_spline([(0, 0), (60, 30), (120, -10), (200, 20)])
    s.dxf.start_tangent = (0, 1, 0)
    s.dxf.end_tangent = (1, 1, 0)
    space.add_line((200, 20), (200, 120))
    space.add_line((200, 120), (0, 120))
    space.add_line((0, 120), (0, 0))


def spline_fit_points_closed_by_hand(space):
    space.add_spline(LOOP + LOOP[:1])


def spline_fit_points_with_control(space):
    """Both are given: the control points count."""
    space.add_cad_spline_control_frame([(0, 0), (60, 30), (120, -10), (200, 20)])
    s = list(space)[-1]
    s.fit_points = [(0, 0, 0), (60, 30, 0), (120, -10, 0), (200, 20, 0)]
    space.add_line((200, 20), (200, 120))
    space.add_line((200, 120), (0, 120))
    space.add_line((0, 120), (0, 0))


def spline_closed_degree_2(space):
    s = space.add_spline(degree=2)
    s.set_closed([(x, y, 0) for x, y in LOOP], degree=2)


def flap(doc, name="FLAP", base=(0, 0), layer="0"):
    """A block with straight lines, a bulge, a circle and an ellipse."""
    block = doc.blocks.new(name, base_point=base)
    attribs = {"layer": layer}
    polyline(block, [(5, 5), (65, 5, 0.5), (65, 35), (5, 45)], **attribs)
    block.add_circle((25, 22), 8, dxfattribs=attribs)
    if doc.dxfversion != "AC1009":
        block.add_ellipse((50, 20), (8, 3), 0.5, dxfattribs=attribs)
    return block


def placed(**attribs):
    def draw(space):
        flap(space.doc, base=(5, 5))
        space.add_blockref("FLAP", (100, 50), dxfattribs=attribs)
        space.add_blockref("FLAP", (-200, -50))

    return draw


def nested_blocks(space):
    doc = space.doc
    flap(doc)
    pair = doc.blocks.new("PAIR", base_point=(10, 0))
    pair.add_blockref("FLAP", (0, 0), dxfattribs={"rotation": 30})
    pair.add_blockref("FLAP", (200, 0), dxfattribs={"xscale": -1, "yscale": 1})
    four = doc.blocks.new("FOUR")
    four.add_blockref("PAIR", (0, 0))
    four.add_blockref("PAIR", (0, 300), dxfattribs={"yscale": -1.5, "xscale": 1.5, "rotation": 15})
    space.add_blockref("FOUR", (50, 60), dxfattribs={"rotation": -70, "xscale": 0.5, "yscale": 0.5, "zscale": 0.5})


def nested_uneven(space):
    doc = space.doc
    flap(doc)
    pair = doc.blocks.new("PAIR")
    pair.add_blockref("FLAP", (0, 0), dxfattribs={"rotation": 45})
    space.add_blockref("PAIR", (0, 0), dxfattribs={"xscale": 3, "yscale": 1})


def array_of_blocks(space):
    flap(space.doc)
    space.add_blockref("FLAP", (10, 20), dxfattribs={
        "row_count": 3, "column_count": 4, "row_spacing": 60, "column_spacing": 90})


def array_turned(space):
    flap(space.doc)
    space.add_blockref("FLAP", (10, 20), dxfattribs={
        "row_count": 2, "column_count": 3, "row_spacing": 120, "column_spacing": -170,
        "rotation": 33, "xscale": 2, "yscale": 2, "zscale": 2})


def deep_but_sound(space):
    flap(space.doc, "D0")
    for level in range(1, 12):
        block = space.doc.blocks.new(f"D{level}")
        block.add_blockref(f"D{level - 1}", (1, 2), dxfattribs={"rotation": 5})
    space.add_blockref("D11", (0, 0))


def layer_of_the_block(space):
    """What lies on layer 0 of a block goes with the layer the block is placed on."""
    doc = space.doc
    doc.layers.add("COLD").freeze()
    doc.layers.add("SCORE")
    flap(doc)
    flap(doc, "OWN", layer="PANEL")
    space.add_blockref("FLAP", (0, 0), dxfattribs={"layer": "PANEL"})
    space.add_blockref("FLAP", (200, 0), dxfattribs={"layer": "COLD"})
    plate(space, 120, 90, (400, 0))
    space.add_blockref("FLAP", (420, 10), dxfattribs={"layer": "SCORE"})


def with_attributes(space):
    block = flap(space.doc)
    block.add_attdef("NO", (10, 10), dxfattribs={"height": 3})
    ref = space.add_blockref("FLAP", (0, 0))
    ref.add_auto_attribs({"NO": "7"})
    plate(space, at=(200, 0))


def from_below(space):
    below = {"extrusion": (0, 0, -1)}
    # Own coordinates: x runs the other way.
    polyline(space, [(0, 0, 0.3), (200, 0), (200, 120, -0.4), (0, 120)], **below)
    space.add_circle((60, 50), 20, dxfattribs=below)
    space.add_arc((140, 42), 20, 20, 200, dxfattribs=below)
    arc = list(space)[-1]
    space.add_line(arc.start_point, arc.end_point)


def old_from_below(space):
    space.add_polyline2d([(0, 0, 0.3), (200, 0, 0), (200, 120, -0.4), (0, 120, 0)], format="xyb",
                         close=True, dxfattribs={"extrusion": (0, 0, -1)})


def block_from_below(space):
    flap(space.doc)
    space.add_blockref("FLAP", (50, 60), dxfattribs={"extrusion": (0, 0, -1), "rotation": 25})
    space.add_blockref("FLAP", (50, 60), dxfattribs={"rotation": 25})


def layers_off_and_frozen(space):
    doc = space.doc
    doc.layers.add("OFF").off()
    doc.layers.add("COLD").freeze()
    doc.layers.add("LOCKED").lock()
    plate(space, layer="LOCKED")
    for layer in ("OFF", "COLD"):
        space.add_circle((120, 80), 30, dxfattribs={"layer": layer})
    space.add_circle((60, 60), 20, dxfattribs={"layer": "LOCKED", "invisible": 1})


def paper_space(space):
    plate(space)
    doc = space.doc
    if doc.dxfversion != "AC1009":
        sheet = doc.layout("Layout1")
        sheet.add_circle((0, 0), 500)
        sheet.add_line((0, 0), (297, 210))


def text_and_dimensions(space):
    plate(space)
    space.add_text("panel", height=5, dxfattribs={"insert": (30, 30)})
    space.add_mtext("back side\\Pno grain", dxfattribs={"insert": (30, 60), "char_height": 4})
    space.add_linear_dim(base=(0, -20), p1=(0, 0), p2=(240, 0), dxfattribs={"layer": "DIMENSIONS"}).render()
    hatch = space.add_hatch(color=2)
    hatch.paths.add_polyline_path([(40, 40), (80, 40), (80, 80)])
    space.add_point((10, 10))


def marks(space):
    plate(space)
    for i, layer in enumerate(("mark", "Marks", "SCORE", "engrave")):
        space.add_line((20, 30 + 20 * i), (200, 40 + 20 * i), dxfattribs={"layer": layer})
    space.add_circle((120, 80), 15, dxfattribs={"layer": "engrave"})


def several_parts(space):
    for i in range(4):
        plate(space, 100 + 10 * i, 80, (150 * i, 10 * i))
        space.add_circle((150 * i + 40, 40 + 10 * i), 10 + i)


def far_away(space):
    plate(space, at=(43210.5, -39876.25))
    space.add_circle((43310.5, -39800.25), 20)


def foreign_names(space):
    space.doc.layers.add("Außen Kontur é 苗")
    plate(space, layer="Außen Kontur é 苗")


def tiny_segments(space):
    ring = [(50 + 40 * math.cos(t), 50 + 40 * math.sin(t)) for t in
            (math.tau * i / 6000 for i in range(6000))]
    polyline(space, ring)


def doubled_corners(space):
    polyline(space, [(0, 0), (0, 0), (100, 0), (100, 0, 0.5), (100, 60), (0, 60), (0, 0)])


def extended_data(space):
    space.doc.appids.add("NURSERY")
    p = plate(space)
    p.set_xdata("NURSERY", [(1000, "tray"), (1002, "{"), (1010, (1.0, 2.0, 3.0)), (1040, 7.5), (1002, "}")])
    p.set_app_data("NURSERY", [(300, "note"), (40, 1.5)])


CASES = {
    "lines": lines,
    "lines-with-gaps": lines_with_gaps,
    "lines-twice": lines_twice,
    "lines-of-many-pieces": lines_of_many_pieces,
    "arcs": arcs,
    "arcs-beyond-a-turn": arcs_beyond_a_turn,
    "circles": circles,
    "rings-in-rings": rings_in_rings,
    "ellipses": ellipses,
    "ellipse-arcs": ellipse_arcs,
    "ellipse-from-below": ellipse_from_below,
    "bulges": bulges,
    "polyline-width": polyline_width_and_height,
    "polyline-open-but-meeting": polyline_open_but_meeting,
    "old-polylines": old_polylines,
    "old-polyline-3d": old_polyline_3d,
    "curve-fit-polyline": curve_fit_polyline,
    "spline-cubic": spline_cubic,
    "spline-quadratic": spline_quadratic,
    "spline-quintic": spline_quintic,
    "spline-linear": spline_linear,
    "spline-knots": spline_knots,
    "spline-weights": spline_weights,
    "spline-circle": spline_circle,
    "spline-periodic": spline_periodic,
    "spline-periodic-rational": spline_periodic_rational,
    "spline-closed-clamped": spline_closed_clamped,
    "spline-unclamped": spline_unclamped,
    "spline-fit-points": spline_fit_points,
    "spline-fit-points-tangents": spline_fit_points_tangents,
    "spline-fit-points-closed": spline_fit_points_closed_by_hand,
    "spline-fit-and-control": spline_fit_points_with_control,
    "spline-closed-degree-2": spline_closed_degree_2,
    "block": placed(),
    "block-scaled": placed(xscale=2.5, yscale=2.5, zscale=2.5),
    "block-uneven": placed(xscale=3, yscale=1.5),
    "block-turned": placed(rotation=37.5),
    "block-mirrored-x": placed(xscale=-1, yscale=1),
    "block-mirrored-y": placed(xscale=1, yscale=-1, rotation=20),
    "block-uneven-turned-mirrored": placed(xscale=-2, yscale=0.75, rotation=-110),
    "blocks-nested": nested_blocks,
    "blocks-nested-uneven": nested_uneven,
    "block-array": array_of_blocks,
    "block-array-turned": array_turned,
    "blocks-deep": deep_but_sound,
    "block-layer": layer_of_the_block,
    "block-attributes": with_attributes,
    "from-below": from_below,
    "old-from-below": old_from_below,
    "block-from-below": block_from_below,
    "layers-off-and-frozen": layers_off_and_frozen,
    "paper-space": paper_space,
    "text-and-dimensions": text_and_dimensions,
    "marks": marks,
    "several-parts": several_parts,
    "far-away": far_away,
    "foreign-names": foreign_names,
    "tiny-segments": tiny_segments,
    "doubled-corners": doubled_corners,
    "extended-data": extended_data,
}

UNITS = {"inch": units.IN, "foot": units.FT, "cm": units.CM, "metre": units.M, "yard": units.YD,
         "micrometre": enums.InsertUnits.Microns, "decimetre": units.DM}


def in_unit(unit):
    """The panel in another unit, about as large in millimetres."""
    size = units.conversion_factor(units.MM, unit)

    def draw(space):
        panel(space)
        for entity in space:
            entity.transform(Matrix44.scale(size, size, size))

    return draw


def drawings():
    for version in VERSIONS:
        doc, space = new(version)
        panel(space)
        # R12 has no $INSUNITS: the unit is said by whoever reads it.
        said = ["--units", "mm"] if version == "R12" else []
        yield f"panel-{version.lower()}", as_text(doc), said
        yield f"panel-{version.lower()}-binary", as_binary(doc), said
    for name, draw in CASES.items():
        doc, space = new("R12" if name.startswith("old-") else "R2010")
        draw(space)
        said = ["--units", "mm"] if name.startswith("old-") else []
        yield name, as_text(doc), said
    for name in ("spline-weights", "blocks-nested", "from-below"):
        doc, space = new("R2018")
        CASES[name](space)
        yield f"{name}-binary", as_binary(doc), []
    for name, unit in UNITS.items():
        doc, space = new(unit=unit)
        in_unit(unit)(space)
        yield f"unit-{name}", as_text(doc), []
    doc, space = new(unit=0)
    panel(space)
    yield "unit-none-said-inch", as_text(doc), ["--units", "inch"]


def texts():
    """Texts of an H: name, drawing, the sides of what ezdxf draws of it, height.

    An H has no descender, and is nearly as wide in most fonts as in the program's letters. Of a paragraph ezdxf
    tells the box alone, which has the font's descender below and the gap behind the letters.
    """
    def plated(add):
        doc, space = new("R2000")
        space.add_lwpolyline([(-400, -400), (400, -400), (400, 400), (-400, 400)], close=True)
        return doc, add(doc, space)

    def sides(box):
        return box.extmin.x, box.extmin.y, box.extmax.x, box.extmax.y

    def text(alignment, turn, **more):
        def add(_, space):
            it = space.add_text("H", height=12, dxfattribs={"rotation": turn, **more})
            two = alignment.name in ("ALIGNED", "FIT")
            it.set_placement((100, 50), (118, 59) if two else None, align=alignment)
            return it
        return add

    for alignment in TextEntityAlignment:
        for turn in (0, 90, 200):
            if turn and alignment.name in ("ALIGNED", "FIT"):
                continue
            doc, it = plated(text(alignment, turn))
            box = path.bbox(text2path.make_paths_from_entity(it))
            height = 12 if alignment.name != "ALIGNED" else 30
            yield f"text-{alignment.name.lower()}-{turn}", as_text(doc), sides(box), height
    for name, more in (("narrow", {"width": 0.6}), ("slanted", {"oblique": 20}), ("backward", {"text_generation_flag": 2}),
                       ("from-below", {"extrusion": (0, 0, -1)})):
        doc, it = plated(text(TextEntityAlignment.MIDDLE_CENTER, 0, **more))
        box = path.bbox(text2path.make_paths_from_entity(it))
        yield f"text-{name}", as_text(doc), sides(box), 12
    for attachment in range(1, 10):
        for turn in (0, 90):
            doc, it = plated(lambda _, space: space.add_mtext("H\\PH", dxfattribs={
                "insert": (100, 50), "char_height": 12, "attachment_point": attachment, "rotation": turn}))
            left, bottom, right, top = sides(bbox.extents([it]))
            # The font's descender, and what its letter is narrower than the step to the next one.
            below, beside = 3.42, 2.9
            free = {1: (0, beside), 2: (beside / 2, beside / 2), 0: (beside, 0)}[attachment % 3]
            if turn:
                yield f"paragraph-{attachment}-{turn}", as_text(doc), (left, bottom + free[0], right - below, top - free[1]), 12
            else:
                yield f"paragraph-{attachment}-{turn}", as_text(doc), (left + free[0], bottom + below, right - free[1], top), 12
