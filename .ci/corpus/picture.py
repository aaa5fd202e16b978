"""What resvg draws of an SVG: everything filled, as area and extents, against the outsides that were read."""

import io

import resvg_py
from PIL import Image

WIDTH = 1600  # pixels
SHARE = 3e-3  # of area and extents: a pixel is 0.06 % of the page


def compare(name, path, arguments, read, faults):
    """1 when the picture was compared, 0 where it shows other things than what is cut."""
    if name in ("lines.svg", "marks.svg", "loose-curves.svg"):
        return 0  # open strokes are filled too, or not at all
    text = path.read_bytes().decode("utf-8-sig")
    whole = sum(p["outside"]["area"] for p in read["parts"])
    left, low, right, top = read["bounds"]
    # The page in millimetres is wanted; an outer drawing shows all that was read, with a border.
    border = 0.05 * max(right - left, top - low)
    box = (left - border, -top - border, right - left + 2 * border, top - low + 2 * border)
    unit = {"mm": 1.0, "inch": 25.4}[arguments[1]] if arguments else 25.4 / 96
    body = text[text.index("<svg") :]
    head = text[: text.index("<svg")]
    body = body.replace("<svg", '<svg overflow="visible"', 1)
    scaled = " ".join(f"{v / unit:.9f}" for v in box)
    page = (f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{WIDTH * box[3] / box[2]:.4f}" '
            f'viewBox="{scaled}">{body}</svg>')
    drawn = bytes(resvg_py.svg_to_bytes(svg_string=head + page, dpi=96))
    alpha = Image.open(io.BytesIO(drawn)).getchannel("A")
    pixel = box[2] / WIDTH
    area = sum(i * n for i, n in enumerate(alpha.histogram())) / 255 * pixel * pixel
    # The outsides of parts that lie in holes of others are drawn over.
    tops = [p for p in read["parts"] if not any(inside(p, q) for q in read["parts"] if q is not p)]
    whole = sum(p["outside"]["area"] for p in tops)
    found = alpha.point(lambda a: 255 if a > 127 else 0).getbbox()
    extents = (box[0] + found[0] * pixel, -(box[1] + found[3] * pixel),
               box[0] + found[2] * pixel, -(box[1] + found[1] * pixel))
    size = max(right - left, top - low)
    # A stroke that runs the other way round is a hole in the picture as well.
    net = sum(p["area"] for p in tops)
    off = [min(abs(area - whole) / whole, abs(area - net) / net), *(abs(a - b) / size for a, b in zip(extents, read["bounds"]))]
    if max(off) > SHARE:
        faults.append(f"{name}: the picture shows {area:.1f} mm2 in {extents}, read were {whole:.1f} in {read['bounds']}")
    return 1


def inside(part, other):
    a, b = part["bounds"], other["bounds"]
    return b[0] < a[0] and b[1] < a[1] and a[2] < b[2] and a[3] < b[3]
