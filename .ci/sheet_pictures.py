#!/usr/bin/env python3
"""Draws the SVG (resvg) and the DXF (ezdxf's drawing add-on, then resvg) of the same cut files and
compares the pixels.

    sheet_pictures.py OUT_DIR [FOLDER]

Fills, hatches, dashes, notes and text are the SVG's alone and are taken out first, so that only lines
are compared, all of one width. Both are drawn at two pixels a millimetre. Needs resvg-py and pillow. With
FOLDER the pictures are left there. Exit code 0 when each pair agrees in 99.5 % of its pixels.
"""

import re
import sys
import xml.etree.ElementTree as ElementTree
from io import BytesIO
from pathlib import Path

import ezdxf
import resvg_py
from ezdxf import bbox
from ezdxf.addons.drawing import Frontend, RenderContext, config, layout, svg
from PIL import Image, ImageChops, ImageFilter

AGREE = 0.995
PIXELS_PER_MM = 2.0
WIDTH_MM = 1.0
LEFT_OUT = {"PW-LABEL"}
NAME = "{http://www.w3.org/2000/svg}"


def picture(text, box):
    width = round(box[2] * PIXELS_PER_MM)
    png = bytes(resvg_py.svg_to_bytes(svg_string=text, width=width, dpi=96, background="white"))
    return Image.open(BytesIO(png)).convert("L")


def lines_of_svg(path, extents, corner):
    """The SVG with nothing but its lines, cut to the extents (x, y, width, height; y up).

    `corner` is the upper left corner of the stock in the DXF.
    """
    ElementTree.register_namespace("", NAME[1:-1])
    root = ElementTree.parse(path).getroot()
    groups = [g for g in root if g.tag == f"{NAME}g" and g.get("id", "").startswith("pw-")]
    for child in list(root):
        if child not in groups or child.get("id") in {"pw-label", "pw-notes"}:
            root.remove(child)
    for node in root.iter():
        for key in ("fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray", "style"):
            node.attrib.pop(key, None)
    # The first ring of the edge is the stock, whose corner tells where the page begins.
    left, top, _, _ = edge_box(root)
    x, y, width, height = extents
    stock_left, stock_top = corner
    root.set("viewBox", f"{left + x - stock_left} {top + stock_top - y - height} {width} {height}")
    root.set("width", f"{width}mm")
    root.set("height", f"{height}mm")
    root.set("style", f"fill:none;stroke:#000;stroke-width:{WIDTH_MM}")
    return ElementTree.tostring(root, encoding="unicode")


def edge_box(root):
    edge = next(g for g in root if g.get("id") == "pw-edge")
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", edge.find(f"{NAME}path").get("d"))]
    xs, ys = numbers[0::2], numbers[1::2]
    return min(xs), min(ys), max(xs), max(ys)


def lines_of_dxf(document, extents):
    _, _, width, height = extents
    out = svg.SVGBackend()
    context = RenderContext(document)
    settings = config.Configuration(
        line_policy=config.LinePolicy.SOLID,
        lineweight_policy=config.LineweightPolicy.ABSOLUTE,
        lineweight_scaling=0.0,
        min_lineweight=WIDTH_MM * 300 / 25.4,
        background_policy=config.BackgroundPolicy.WHITE,
        color_policy=config.ColorPolicy.BLACK,
        max_flattening_distance=0.01,
    )
    frontend = Frontend(context, out, config=settings)
    frontend.draw_layout(document.modelspace(), filter_func=lambda e: e.dxf.layer not in LEFT_OUT)
    page = layout.Page(width, height, layout.Units.mm, margins=layout.Margins.all(0))
    text = out.get_string(page, settings=layout.Settings(scale=1.0, fit_page=True))
    # One width for every line, whatever the layer's.
    box = re.search(r'viewBox="([^"]*)"', text).group(1).split()
    units = float(box[2]) / width
    return re.sub(r"stroke-width:\s*[\d.]+", f"stroke-width: {WIDTH_MM * units:.1f}", text)


def main(arguments):
    if len(arguments) not in (1, 2):
        print(__doc__)
        return 2
    worst, count, thin = 1.0, 0, 0.0
    for path in sorted((Path(arguments[0]) / "cut").glob("sheet-*.dxf")):
        if "-step-" in path.name:
            continue
        document = ezdxf.readfile(path)
        shown = [e for e in document.modelspace() if e.dxf.layer not in LEFT_OUT]
        box = bbox.extents(shown, fast=False)
        extents = (box.extmin.x, box.extmin.y, box.size.x, box.size.y)
        edge = next(e for e in shown if e.dxf.layer == "PW-EDGE")
        stock = bbox.extents([edge], fast=False)
        corner = (stock.extmin.x, stock.extmax.y)
        a = picture(lines_of_svg(path.with_suffix(".svg"), extents, corner), extents)
        b = picture(lines_of_dxf(document, extents), extents)
        if a.size != b.size:
            b = b.resize(a.size)
        differ = ImageChops.difference(a, b).point(lambda v: 255 if v > 96 else 0)
        share = 1.0 - differ.histogram()[255] / (a.size[0] * a.size[1])
        # Of the inked pixels of either, those with no ink of the other within a pixel.
        ink = [i.point(lambda v: 255 if v < 128 else 0) for i in (a, b)]
        wide = [i.filter(ImageFilter.MaxFilter(3)) for i in ink]
        lone = [ImageChops.subtract(ink[0], wide[1]), ImageChops.subtract(ink[1], wide[0])]
        inked = sum(i.histogram()[255] for i in ink)
        alone = sum(i.histogram()[255] for i in lone) / max(1, inked)
        thin, worst, count = max(thin, alone), min(worst, share), count + 1
        print(f"{'ok  ' if share >= AGREE else 'FAIL'} {path.stem}: {share:.3%} of pixels agree, "
              f"{alone:.3%} of the ink stands alone")
        if len(arguments) == 2:
            folder = Path(arguments[1])
            folder.mkdir(parents=True, exist_ok=True)
            for name, image in (("svg", a), ("dxf", b), ("differ", differ)):
                image.save(folder / f"{path.stem}-{name}.png")
    print(f"{count} sheets, at worst {worst:.3%} agree, {thin:.3%} of the ink alone")
    return 0 if count and worst >= AGREE else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
