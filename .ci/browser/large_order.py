"""Writes an order of 3,000 parts that fill some 60 sheets and are nested quickly.

    large_order.py FOLDER
"""

import json
import sys
from pathlib import Path

KITS = 120
# Name, length, width, copies in a kit: 25 parts, 0.94 m2.
PARTS = [
    ("tray-floor", 380, 260, 2),
    ("tray-side", 380, 90, 4),
    ("tray-end", 254, 90, 4),
    ("vent-plate", 220, 160, 3),
    ("cable-plate", 160, 120, 3),
    ("fan-guard", 180, 180, 2),
    ("corner-plate", 140, 140, 4),
    ("label-holder", 120, 60, 2),
    ("light-rail", 560, 70, 1),
]


def part(name, length, width, copies):
    features = [
        {"kind": "hole", "at": [x, y], "diameter": 5.2}
        for x in (15, length - 15)
        for y in (15, width - 15)
    ]
    if name in ("vent-plate", "fan-guard", "corner-plate"):
        features.append({"kind": "window", "at": [35, 35], "length": length - 70, "width": width - 70, "corner_radius": 12})
    rectangle = {"length": length, "width": width, "corner_radius": 6, "features": features}
    return {"part": name, "quantity": copies, "material": "composite-3", "route": "router", "turn": "quarter", "rectangle": rectangle}


def main():
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    files = {
        "shop.json": {
            "format": "panelwright-shop-1",
            "shop": "Demo panel shop",
            "currency": "EUR",
            "materials": [
                {"name": "composite-3", "substance": "composite", "thickness": 3, "kg_per_m2": 3.8,
                 "keep": {"least_width": 200, "least_length": 600, "value_share": 0.5}, "disposal_per_m2": 1.2},
            ],
            "machines": [{"name": "router", "process": "router", "kerf": 3.175, "gap": 6, "margin": 10, "bed": [2500, 1300]}],
            "sheets": [{"id": "composite-1800x1000", "material": "composite-3", "length": 1800, "width": 1000, "price": 55, "place": "upright rack 1"}],
        },
        "kit.json": {"format": "panelwright-kit-1", "kit": "tray set", "parts": [part(*p) for p in PARTS]},
        "order.json": {"format": "panelwright-order-1", "order": "GC-large", "shop": "shop.json",
                       "kits": [{"kit": "kit.json", "quantity": KITS}]},
    }
    for name, value in files.items():
        (folder / name).write_text(json.dumps(value, indent=1))


if __name__ == "__main__":
    main()
