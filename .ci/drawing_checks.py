#!/usr/bin/env python3
"""Has the program read a corpus of drawings and compares with other people's readers.

    drawing_checks.py PROGRAM [--keep FOLDER]

Good drawings: area and extents of what is cut as ezdxf or svgelements with shapely find them, and the picture
that resvg draws of an SVG. Each has a broken twin: one message, exit code 2, within a second and 200 MiB.

Prints a line for each fault and one for each part of the check; the exit code is 1 when there was a fault.
"""

import json
import logging
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent / "corpus"))

import broken  # noqa: E402
import dxf_drawings  # noqa: E402
import outside  # noqa: E402
import picture  # noqa: E402
import svg_drawings  # noqa: E402

SHARE = 1e-4  # of area and extents
SECONDS = 1.0
MEMORY = 200  # MiB
# svgelements does not know these; the picture is looked at all the same.
PICTURE_ONLY = {
    "style-sheet-visibility": "selectors of more than one part",
    "important-in-style": "!important",
    "definitions-not-drawn": "markers and patterns",
    "symbol": "view boxes of symbols",
    "symbol-fitted": "view boxes of symbols",
}


def run(program, path, arguments):
    """Exit code, output, messages, seconds and MiB of one run."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        process = subprocess.Popen([program, "check", str(path), *arguments], stdout=out, stderr=err)
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        # Of the processor, so that a busy machine fails nothing.
        taken = usage.ru_utime + usage.ru_stime
        out.seek(0), err.seek(0)
        return process.returncode, out.read(), err.read().decode(), taken, usage.ru_maxrss / 1024


def compared(name, path, arguments, read, faults):
    """The largest difference, as a share."""
    area, extents, outlines, insides = outside.area_and_extents(path, arguments[1] if arguments else None)
    found = (len(read["parts"]), sum(len(p["holes"]) for p in read["parts"]))
    if found != (outlines, insides):
        faults.append(f"{name}: {found} outlines and holes, outside {(outlines, insides)}")
    sides = (extents[2] - extents[0], extents[3] - extents[1])
    off = [abs(read["area"] - area) / area]
    off += [abs(a - b) / sides[i % 2] for i, (a, b) in enumerate(zip(read["bounds"], extents))]
    if max(off) > SHARE:
        faults.append(f"{name}: area {read['area']:.3f}, outside {area:.3f}; extents {read['bounds']}, outside {extents}")
    return max(off)


def marked_text(program, folder, faults):
    """Text that a rule marks against where ezdxf puts it: every alignment, several angles, blocks and paragraphs.

    Its letters are a font's and ours are not, so sides may be off by what letters differ in: a sixth of the height.
    """
    kit = folder / "marks-text.json"
    kit.write_text(json.dumps({"format": "panelwright-kit-1", "kit": "text", "parts": [],
                               "drawing_rules": [{"text": True, "use": "mark"}]}))
    count, worst = 0, 0.0
    for name, data, (left, bottom, right, top), height in dxf_drawings.texts():
        path = folder / f"{name}.dxf"
        path.write_bytes(data)
        code, out, messages, _, _ = run(program, path, ["--json", "--kit", str(kit)])
        if code != 0:
            faults.append(f"{name}: refused: {messages}")
            continue
        found = json.loads(out)["parts"][0]["mark_bounds"]
        off = max(abs(a - b) for a, b in zip(found or [0] * 4, (left, bottom, right, top))) / height
        if not found or off > 1 / 6:
            faults.append(f"{name}: marked in {found}, by ezdxf in {(left, bottom, right, top)}")
        count, worst = count + 1, max(worst, off)
    return count, worst


def main():
    program = Path(sys.argv[1]).resolve()
    kept = Path(sys.argv[3]) if sys.argv[2:3] == ["--keep"] else None
    logging.disable(logging.WARNING)
    faults, worst, slowest, largest = [], 0.0, 0.0, 0.0
    pictures, kinds = 0, {}
    all_drawings = [(f"{n}.dxf", d, a) for n, d, a in dxf_drawings.drawings()]
    all_drawings += [(f"{n}.svg", d, a) for n, d, a in svg_drawings.drawings()]
    with tempfile.TemporaryDirectory() as temporary:
        folder = kept or Path(temporary)
        folder.mkdir(exist_ok=True)
        for number, (name, data, arguments) in enumerate(all_drawings):
            path = folder / name
            path.write_bytes(data)
            code, out, err, taken, memory = run(program, path, ["--json", *arguments])
            slowest, largest = max(slowest, taken), max(largest, memory)
            if code != 0:
                faults.append(f"{name}: refused: {err.strip()}")
            else:
                read = json.loads(out)
                if path.stem not in PICTURE_ONLY:
                    worst = max(worst, compared(name, path, arguments, read, faults))
                if path.suffix == ".svg":
                    pictures += picture.compare(name, path, arguments, read, faults)
            kind, bad = broken.twin(number, name, data)
            kinds[kind] = kinds.get(kind, 0) + 1
            twin = folder / f"broken-{name}"
            twin.write_bytes(bad)
            code, out, err, taken, memory = run(program, twin, arguments)
            slowest, largest = max(slowest, taken), max(largest, memory)
            if code != 2 or out or len(err.strip().splitlines()) != 1 or not err.startswith("error: "):
                faults.append(f"broken-{name} ({kind}): exit code {code}: {err.strip()[:300]} {out[:200]!r}")
            if taken > SECONDS or memory > MEMORY:
                faults.append(f"broken-{name} ({kind}): {taken:.2f} s and {memory:.0f} MiB")
        texts, lettered = marked_text(program, folder, faults)
    for fault in faults:
        print(f"FAIL {fault}")
    print(f"{len(all_drawings)} drawings read: at most {100 * worst:.4f} % from the outside reading, {pictures} pictures alike")
    print(f"{len(all_drawings)} broken twins of {len(kinds)} kinds; slowest run {slowest:.2f} s, most memory {largest:.0f} MiB")
    print(f"{texts} texts marked where ezdxf has them, at most {lettered:.3f} of their height off")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
