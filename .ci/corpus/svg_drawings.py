"""SVG drawings of flat parts, one for each thing a drawing may hold, written as text by hand.

`drawings()` yields (name, bytes, arguments for the program).
"""

import math

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PAGE = f'{HEAD} width="400mm" height="300mm" viewBox="0 0 400 300">'
PANEL = ('<rect x="20" y="20" width="240" height="160" rx="12"/><circle cx="80" cy="90" r="25"/>'
         '<path d="M140 60h60a12 12 0 0 1 0 24h-60a12 12 0 0 1 0-24z"/>')


def star(count=7, outer=90, inner=45, at=(150, 150)):
    return [(at[0] + r * math.cos(math.pi * i / count), at[1] + r * math.sin(math.pi * i / count))
            for i in range(2 * count) for r in [inner if i % 2 else outer]]


def points(ring):
    return " ".join(f"{x:.6f},{y:.6f}" for x, y in ring)


BODIES = {
    "panel": PANEL,
    "rectangle": '<rect x="5.5" y="6" width="340" height="200"/>',
    "rectangle-rx": '<rect width="300" height="200" rx="30"/>',
    "rectangle-rx-ry": '<rect width="300" height="200" rx="60" ry="30"/>',
    "rectangle-ry-beyond-half": '<rect width="300" height="120" rx="20" ry="90"/>',
    "circle": '<circle cx="150" cy="150" r="120"/><circle cx="150" cy="150" r="20.125"/>',
    "ellipse": '<ellipse cx="200" cy="150" rx="180" ry="90"/><ellipse cx="200" cy="150" rx="30" ry="60"/>',
    "polygon": f'<polygon points="{points(star())}"/>',
    "polyline-closed": f'<polyline points="{points(star() + star()[:1])}"/>',
    "lines": '<line x1="0" y1="0" x2="200" y2="0"/><line x1="200" y1="150" x2="200" y2="0"/>'
             '<line x1="0" y1="0" x2="0" y2="150"/><line x1="200" y1="150" x2="0" y2="150"/>',
    "path-absolute": '<path d="M10 10 H250 V200 L30 260 Z M60 60 L60 120 L150 120 L150 60 Z"/>',
    "path-relative": '<path d="m10 10 h240 v190 l-220 60 z m50 50 v60 h90 v-60 z"/>',
    "path-implied-commands": '<path d="M10,10 250,10 250,200 30,260zM60 60l0 60 90 0 0-60z"/>',
    "path-tight-numbers": '<path d="M10.5.5L250.5.5.25e3 2e2-1.5e0+260z"/>',
    "path-cubic": '<path d="M10 100 C10 20 120 20 120 100 S230 180 230 100 C260 200 100 280 60 200 Z"/>',
    "path-cubic-relative": '<path d="m10 100 c0-80 110-80 110 0 s110 80 110 0 c30 100-130 180-170 100 z"/>',
    "path-quadratic": '<path d="M10 100 Q60 0 120 100 T240 100 Q300 250 120 250 T10 100 Z"/>',
    "path-smooth-without-before": '<path d="M10 100 L60 60 S120 40 200 100 L220 180 T100 250 Z"/>',
    "path-arcs-flags": ''.join(
        f'<path d="M{60 + 130 * (i % 2)} {70 + 130 * (i // 2)} a40 40 0 {i // 2} {i % 2} 50 30 z"/>' for i in range(4)),
    "path-arcs-tight-flags": '<path d="M100 100a40 40 0 1160 20a50 50 0 01-60-20z"/>',
    "path-arcs-elliptical": '<path d="M60 120 A80 40 30 0 1 220 160 A120 60 -20 0 1 60 120 Z"/>',
    "path-arcs-too-small": '<path d="M60 120 A5 5 0 0 1 220 160 A10 3 40 0 1 60 120 Z"/>',
    "path-arcs-without-radius": '<path d="M60 120 A0 5 0 0 1 220 160 L80 250 Z"/>',
    "path-two-strokes": '<path d="M20 20h200v120h-200zM60 60h40v40h-40zM140 60h40v40h-40z"/>',
    "path-comma-and-space": '<path d=" M 20 , 20\n L\t220,20 ,220 , 140\r\n20 140 z "/>',
    "path-meets-its-start": '<path d="M20 20L220 20L220 140L20 140L20 20"/>',
    "translate": f'<g transform="translate(40 30)">{PANEL}</g>',
    "scale": f'<g transform="scale(1.25)">{PANEL}</g>',
    "scale-uneven": f'<g transform="scale(1.25 .8)">{PANEL}</g>',
    "scale-negative": f'<g transform="translate(300 0) scale(-1 1)">{PANEL}</g>',
    "rotate": f'<g transform="rotate(17)">{PANEL}</g>',
    "rotate-about": f'<g transform="rotate(-33.3, 150 120)">{PANEL}</g>',
    "skew": f'<g transform="skewX(20)">{PANEL}</g>',
    "skew-y": f'<g transform="skewY(-12)">{PANEL}</g>',
    "matrix": f'<g transform="matrix(.9 .3 -.25 1.1 40 10)">{PANEL}</g>',
    "transform-list": f'<g transform="translate(40,30)rotate(10) scale(1.1,1.1) ,skewX(5)">{PANEL}</g>',
    "transforms-nested": f'<g transform="translate(90 30) rotate(25)"><g transform="scale(.8)">'
                         f'<g transform="rotate(-25)">{PANEL}</g></g></g>',
    "transform-on-shape": '<rect width="200" height="100" transform="translate(100 20) rotate(30)"/>',
    "inner-svg": f'<svg x="40" y="30" width="300" height="200" viewBox="0 0 300 200">{PANEL}</svg>',
    "inner-svg-fitted": f'<svg x="40" y="30" width="300" height="240" viewBox="10 10 260 180">{PANEL}</svg>',
    "inner-svg-stretched": f'<svg x="40" y="30" width="300" height="240" viewBox="0 0 270 190" '
                           f'preserveAspectRatio="none">{PANEL}</svg>',
    "percent": '<rect x="10%" y="10%" width="50%" height="50%"/>',
    "unit-lengths": '<rect x="1in" y="10px" width="200" height="3in"/>',
    "use": f'<defs><g id="p">{PANEL}</g></defs><use href="#p" x="30" y="40"/>',
    "use-old-link": f'<defs><g id="p">{PANEL}</g></defs><use xlink:href="#p" transform="rotate(12)"/>',
    "use-of-shape": '<defs><circle id="c" r="30"/></defs><rect width="300" height="200"/>'
                    '<use href="#c" x="60" y="60"/><use href="#c" transform="translate(200 100) scale(1.5)"/>',
    "use-of-use": '<defs><circle id="c" r="12"/><g id="two"><use href="#c" x="30" y="30"/><use href="#c" x="90" y="30"/></g>'
                  '</defs><rect width="300" height="200"/><use href="#two"/><use href="#two" y="100"/>',
    "use-of-drawn": '<rect id="r" width="100" height="60"/><use href="#r" x="150" y="100"/>',
    "symbol": '<defs><symbol id="s" viewBox="0 0 100 60"><rect width="100" height="60"/><circle cx="50" cy="30" r="15"/></symbol></defs>'
              '<use href="#s" x="30" y="20" width="300" height="180"/>',
    "symbol-fitted": '<defs><symbol id="s" viewBox="10 0 100 60" preserveAspectRatio="xMaxYMin"><rect x="20" y="5" width="70" height="50"/></symbol></defs>'
                     '<use href="#s" x="30" y="20" width="300" height="250" transform="rotate(5)"/>',
    "display-none": f'{PANEL}<g display="none"><circle cx="200" cy="140" r="20"/></g>'
                    '<circle style="fill:red;display:none" cx="200" cy="140" r="15"/>',
    "visibility": f'{PANEL}<g visibility="hidden"><circle cx="150" cy="140" r="20"/>'
                  '<circle visibility="visible" cx="220" cy="140" r="15"/></g>',
    "style-sheet-hides": f'<style>.helper {{ display: none }} #jig, line {{display:none}}</style>{PANEL}'
                         '<g class="helper"><rect x="10" y="10" width="300" height="250"/></g>'
                         '<circle id="jig" cx="200" cy="140" r="20"/><line x1="0" y1="0" x2="9" y2="9"/>',
    "style-sheet-visibility": f'<style type="text/css"><![CDATA[ g.off circle {{visibility:hidden}} '
                              f'g.off > .on {{visibility:visible}} ]]></style>{PANEL}'
                              '<g class="off"><circle cx="150" cy="140" r="20"/><circle class="on" cx="220" cy="140" r="15"/></g>',
    "style-sheet-order": '<style>rect{display:none}.keep{display:inline}</style><rect class="keep" width="200" height="100"/>'
                         '<rect width="400" height="300"/>',
    "switch-and-links": f'<a href="https://example.org">{PANEL}</a>',
    "titles": f'<g><title>tray floor</title>{PANEL}</g>',
    "definitions-not-drawn": f'<defs>{PANEL}</defs><marker id="m"><circle r="9"/></marker><pattern id="q"><rect width="9" height="9"/></pattern>'
                             '<rect x="10" y="10" width="300" height="120"/>',
    "text-left-out": f'{PANEL}<text x="30" y="50">no grain</text>',
    "foreign-elements": f'<metadata><r:w xmlns:r="urn:x"><r:circle r="5"/></r:w></metadata><v:view xmlns:v="urn:v" zoom="2"/>{PANEL}',
    "several-parts": "".join(f'<rect x="{130 * i}" y="{10 * i}" width="100" height="{60 + 10 * i}"/>'
                             f'<circle cx="{130 * i + 40}" cy="{10 * i + 30}" r="{10 + i}"/>' for i in range(3)),
    "rings-in-rings": "".join(f'<circle cx="150" cy="150" r="{r}"/>' for r in (140, 120, 90, 60, 30)),
    "marks": f'{PANEL}<g id="score"><path d="M30 120 H240"/></g><path class="engrave" d="M30 140 H240"/>',
    "loose-curves": '<path d="M20 100 C60 20 140 20 180 100"/><path d="M20 100 A80 60 0 0 0 180 100"/>',
    "clip-of-the-page": f'<clipPath id="page"><rect width="400" height="300"/></clipPath><g clip-path="url(#page)">{PANEL}</g>',
    "important-in-style": '<style>#a{display:none!important}</style>'
                          '<rect width="200" height="100"/><circle id="a" style="display:inline" cx="50" cy="50" r="20"/>',
}

# How the page is measured; the content is the panel in its user units.
PAGES = {
    "page-mm": ('width="400mm" height="300mm" viewBox="0 0 400 300"', []),
    "page-cm": ('width="40cm" height="30cm" viewBox="0 0 400 300"', []),
    "page-inch": ('width="16in" height="12in" viewBox="0 0 400 300"', []),
    "page-points": ('width="720pt" height="540pt" viewBox="0 0 400 300"', []),
    "page-picas": ('width="60pc" height="45pc" viewBox="0 0 400 300"', []),
    "page-pixels": ('width="960px" height="720px" viewBox="0 0 400 300"', []),
    "page-offset": ('width="400mm" height="300mm" viewBox="-30 -20 400 300"', []),
    "page-wide": ('width="600mm" height="300mm" viewBox="0 0 400 300"', []),
    "page-slice": ('width="600mm" height="300mm" viewBox="0 0 400 300" preserveAspectRatio="xMinYMax slice"', []),
    "page-stretched": ('width="600mm" height="300mm" viewBox="0 0 400 300" preserveAspectRatio="none"', []),
    "page-without-box": ('width="400mm" height="300mm"', []),
    "page-plain-said-mm": ('width="400" height="300" viewBox="0 0 400 300"', ["--units", "mm"]),
}


def drawings():
    for name, body in BODIES.items():
        yield name, (PAGE + body + "</svg>").encode(), []
    for name, (head, arguments) in PAGES.items():
        yield name, f"{HEAD} {head}>{PANEL}</svg>".encode(), arguments
    doctype = ('<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
               '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd" [<!ENTITY side "240">]>\n')
    body = PANEL.replace('"240"', '"&side;"')
    yield "document-type", (doctype + PAGE + body + "</svg>\n").encode(), []
    yield "byte-order-mark", b"\xef\xbb\xbf" + (PAGE + PANEL + "</svg>").encode(), []
