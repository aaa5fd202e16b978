"""A broken twin for every drawing of the corpus.

`twin(number, name, data)` gives (what was done, bytes). The kinds of damage take turns; where one finds
nothing to break, the next one is taken.
"""

import re
import struct

# ---- DXF, text ---------------------------------------------------------------------------------------


def pairs_of(data):
    lines = data.split(b"\n")
    return [[lines[i], lines[i + 1]] for i in range(0, len(lines) - 1, 2)]


def joined(pairs):
    return b"\n".join(line for pair in pairs for line in pair) + b"\n"


def entities_at(pairs):
    for i, (code, value) in enumerate(pairs):
        if code.strip() == b"2" and value.strip() == b"ENTITIES" and pairs[i - 1][1].strip() == b"SECTION":
            return i + 1
    raise ValueError("no entities")


def last_of(codes, new):
    """Gives the last value with one of these codes among the entities another text."""

    def damage(data):
        pairs = pairs_of(data)
        for i in range(len(pairs) - 1, entities_at(pairs), -1):
            kind = next(p[1].strip() for p in pairs[i::-1] if p[0].strip() == b"0")
            drawn = kind in (b"LINE", b"ARC", b"CIRCLE", b"ELLIPSE", b"LWPOLYLINE", b"VERTEX", b"SPLINE", b"INSERT")
            if pairs[i][0].strip() in codes and drawn:
                # On a layer that is cut, whatever it was on: what is left out may be as broken as it likes.
                back = i
                while pairs[back][0].strip() != b"0":
                    if pairs[back][0].strip() == b"8":
                        pairs[back][1] = b"0"
                    back -= 1
                pairs[i][1] = new
                return joined(pairs)
        return None

    return damage


def truncated(data):
    return data[: len(data) * 7 // 10]


def without_end(data):
    return data[: data.rindex(b"EOF") - 4]


def letters_for_codes(data):
    half = data.index(b"\n", len(data) // 2)
    return data[: half + 1] + b"pot\nplant\n" + data[half + 1 :]


def with_blocks(blocks, insert):
    def damage(data):
        pairs = pairs_of(data)
        at = entities_at(pairs)
        section = lines_of([(0, "SECTION"), (2, "BLOCKS"), *blocks, (0, "ENDSEC")])
        before = next(i for i in range(at, 0, -1) if pairs[i][1].strip() == b"SECTION")
        return joined(pairs[:before]) + section + joined(pairs[before : at]) + lines_of(insert) + joined(pairs[at:])

    return damage


def lines_of(pairs):
    return "".join(f"{code}\n{value}\n" for code, value in pairs).encode()


def block(name, content):
    return [(0, "BLOCK"), (8, "0"), (2, name), (70, 0), (10, 0), (20, 0), *content, (0, "ENDBLK"), (8, "0")]


def insert(name, *more):
    return [(0, "INSERT"), (8, "0"), (2, name), (10, 0), (20, 0), *more]


CIRCLE = [(0, "CIRCLE"), (8, "0"), (10, 900), (20, 900), (40, 5)]
DEEP = [p for i in range(500) for p in block(f"DEEP{i}", insert(f"DEEP{i + 1}"))] + block("DEEP500", CIRCLE)
CYCLE = block("HEN", insert("EGG")) + block("EGG", insert("HEN"))
MANY = [(70, 10), (71, 10), (44, 40), (45, 40)]
BOMB = [p for i in range(10) for p in block(f"B{i}", insert(f"B{i + 1}", *MANY))] + block("B10", CIRCLE)

DXF = {
    "truncated": truncated,
    "not a number": last_of((b"10",), b"nan"),
    "wrong type": last_of((b"20", b"21"), b"twelve"),
    "huge array": with_blocks(block("B", CIRCLE), insert("B", (70, 32767), (71, 32767), (44, 30), (45, 30))),
    "cycle of blocks": with_blocks(CYCLE, insert("HEN")),
    "endless": last_of((b"10",), b"1e400"),
    "deep blocks": with_blocks(DEEP, insert("DEEP0")),
    "far out": last_of((b"20",), b"-4e17"),
    "bomb of blocks": with_blocks(BOMB, insert("B0")),
    "no end": without_end,
    "no such block": with_blocks([], insert("NOWHERE")),
    "letters for codes": letters_for_codes,
    "huge count": last_of((b"90", b"72", b"73"), b"2147483647"),
    "negative radius": last_of((b"40",), b"-3"),
}

# ---- DXF, binary --------------------------------------------------------------------------------------


def doubles(new):
    """Overwrites the last number that looks like a coordinate of an entity."""

    def damage(data):
        for value in (40.0, 60.0, 180.0, 220.0, 0.4, 200.0):
            at = data.rfind(struct.pack("<d", value))
            if at > 0:
                return data[:at] + struct.pack("<d", new) + data[at + 8 :]
        return None

    return damage


BINARY = {
    "truncated": truncated,
    "not a number": doubles(float("nan")),
    "endless": doubles(float("inf")),
    "far out": doubles(1e300),
    "no end": lambda data: data[: data.rindex(b"EOF") - 1],
}

# ---- SVG -----------------------------------------------------------------------------------------------


def within(text):
    """Puts something before the end of the drawing."""
    return lambda data: data.replace(b"</svg>", text.encode() + b"</svg>") if data.count(b"</svg>") == 1 else None


def number(new):
    """Gives the last number of a shape's attribute another text."""

    def damage(data):
        found = list(re.finditer(rb'(?<=[\s])(?:width|r|rx|cx|x2)="([^"]*)"(?=[^<>]*/>)', data))
        if not found:
            return None
        at = found[-1]
        return data[: at.start(1)] + new + data[at.end(1) :]

    return damage


LEVELS = "".join(f'<g id="b{i}">' + f'<use href="#b{i + 1}"/>' * 10 + "</g>" for i in range(10))
LAUGHS = "".join(f'<!ENTITY l{i} "' + f"&l{i - 1};" * 10 + '">' for i in range(1, 10))

SVG = {
    "truncated": truncated,
    "not a number": number(b"nan"),
    "wrong type": number(b"twelve"),
    "cycle of copies": within('<g id="hen"><use href="#egg"/></g><g id="egg"><use href="#hen"/></g>'),
    "deep groups": within("<g>" * 5000 + "</g>" * 5000),
    "bomb of copies": within(f'<defs>{LEVELS}<g id="b10"><rect width="5" height="5"/></g></defs><use href="#b0"/>'),
    "bomb of entities": lambda data: b'<!DOCTYPE svg [<!ENTITY l0 "ha">' + LAUGHS.encode() + b"]>"
    + data.replace(b"</svg>", b"<text>&l9;</text></svg>") if b"DOCTYPE" not in data and data.startswith(b"<") else None,
    "far out": number(b"1e30"),
    "bad path": within('<path d="M0 0 L10 ten"/>'),
    "no such copy": within('<use href="#nowhere"/>'),
    "flat transform": within('<g transform="scale(0)"><rect width="5" height="5"/></g>'),
    "unclosed tag": lambda data: data.replace(b"/>", b">", 1),
    "open outline": within('<path d="M300 250 h20 v20"/>'),
    "bad bytes": lambda data: data.replace(b"</svg>", b"<desc>\xff\xfe</desc></svg>"),
}


def twin(number_of, name, data):
    kinds = SVG if name.endswith(".svg") else BINARY if b"Binary DXF" in data[:22] else DXF
    names = list(kinds)
    for i in range(len(names)):
        kind = names[(number_of + i) % len(names)]
        broken = kinds[kind](data)
        if broken is not None and broken != data:
            return kind, broken
    raise ValueError(f"nothing breaks {name}")
