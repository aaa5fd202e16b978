"""Replays saw cuts on a sheet: each runs edge to edge of exactly one piece and parts it."""

from shapely.geometry import LineString, Polygon, box

NEAR = 0.02  # ends of a centre line may be this far from the edge of the piece they meet


def pieces_after(outline, cuts, name, fail):
    """The pieces that are left, as polygons. Faults go to `fail` with the cut's number."""
    pieces = [Polygon(outline)]
    for number, cut in enumerate(cuts, 1):
        (ax, ay), (bx, by), kerf = cut["from"], cut["to"], cut["kerf"]
        where = f"{name}, saw cut {number}"
        level = abs(ay - by) < 1e-6
        if not level and abs(ax - bx) > 1e-6:
            fail(f"{where} is neither along nor across the sheet")
            continue
        length = abs(bx - ax) + abs(by - ay)
        half = kerf / 2
        low = (min(ax, bx), min(ay, by))
        high = (max(ax, bx), max(ay, by))
        if level:
            band = box(low[0], ay - half, high[0], ay + half)
        else:
            band = box(ax - half, low[1], ax + half, high[1])
        met = [p for p in pieces if p.intersection(band).area > NEAR * max(length, kerf)]
        if len(met) != 1:
            fail(f"{where} meets {len(met)} pieces instead of one")
            continue
        piece = met[0]
        left, bottom, right, top = piece.bounds
        # The whole way across the piece: a blade that stops short, or goes on, is no edge-to-edge cut.
        if level:
            across = LineString([(left - 1, ay), (right + 1, ay)])
            full = box(left - 1, ay - half, right + 1, ay + half)
        else:
            across = LineString([(ax, bottom - 1), (ax, top + 1)])
            full = box(ax - half, bottom - 1, ax + half, top + 1)
        # On a slanted edge the blade meets the piece before its middle does: the cut may begin anywhere
        # between the two.
        blade = full.intersection(piece).bounds
        middle = across.intersection(piece).bounds or blade
        axis = 0 if level else 1
        beyond = max(blade[axis] - low[axis], high[axis] - blade[axis + 2])
        short = max(low[axis] - middle[axis], middle[axis + 2] - high[axis])
        if beyond > NEAR:
            fail(f"{where} runs {beyond:.3f} mm beyond its piece")
        if short > NEAR:
            fail(f"{where} stops {short:.3f} mm short of the edge of its piece")
        pieces.remove(piece)
        rest = piece.difference(full)
        pieces.extend(g for g in getattr(rest, "geoms", [rest]) if g.area > 1e-6)
    return pieces
