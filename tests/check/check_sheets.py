"""Checks the sheets for the workshop with libraries that read PDF, DXF and SVG.

    python check_sheets.py --program PATH --examples FOLDER [--only NAME]

Makes every sheet of every example and looks at what was written:

* every PDF passes `qpdf --check`, has a title, a language and a tag tree, and `pdftotext` finds the design's name on
  it; every text lies on its page, at least 4 mm from the edge, and on no other text; the same order gives the same
  bytes twice;
* full-size template, on every paper: both check bars of every page are 100 mm long; every straight tube's axis lies
  where the neutral dump of the design has it, by the corner that the page states; the inner walls of the longest
  straight tube are as long as its bore; neighbouring frames overlap by what is stated, and together they cover all walls;
* drawing as DXF: no error is found, the unit is the millimetre, and axes and bends are as long and as wide as in the dump;
* SVG: true to size, and the bars as well;
* what can't be is refused, and no file is replaced without being told so.

Lengths on paper may deviate by 0.1 mm, lengths in files by 0.02 mm. The last line reads `N passed, N failed`; the exit
status is 1 when anything failed.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pdfplumber
import pypdf

POINTS_PER_MM = 72 / 25.4
PAPER_MM = 0.1
FILE_MM = 0.02
OVERLAP_MM = 10.0
DATE = "2026-01-31"
PAPERS = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
SHEETS = ["template", "drawing", "cuts", "assembly", "run", "order", "dossier"]

passed = failed = 0


def check(what: str, good: bool, detail: str = "") -> bool:
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED {what}: {detail}")
    return good


class Program:
    def __init__(self, path: Path, folder: Path):
        self.path, self.folder = path, folder

    def run(self, *arguments: str) -> subprocess.CompletedProcess:
        return subprocess.run([str(self.path), *arguments], capture_output=True, text=True)

    def sheet(self, design: Path, what: str, ending: str, paper: str = "a4") -> Path:
        out = self.folder / f"{design.stem}-{what}-{paper}.{ending}"
        made = self.run(
            "sheet", str(design), "--what", what, "--paper", paper, "--out", str(out), "--date", DATE, "--force"
        )
        check(f"{out.name} is made", made.returncode == 0, made.stderr)
        return out

    def dump(self, design: Path) -> dict:
        return json.loads(self.run("interior", str(design)).stdout)


def mm(points: float) -> float:
    return points / POINTS_PER_MM


def lines_of(page) -> list[dict]:
    """Every drawn path as points in millimetres from the lower left corner, y up."""
    found = []
    height = float(page.height)
    for item in [*page.lines, *page.curves, *page.rects]:
        points = [(mm(x), mm(height - y)) for x, y in item.get("pts", [])]
        dash = item.get("dash") or ([], 0)
        found.append({"points": points, "width": mm(item["linewidth"] or 0), "dashed": bool(dash[0]), "kind": item})
    return found


def length(points) -> float:
    return math.dist(points[0], points[-1])


def is_bar(points, axis: int) -> bool:
    other = 1 - axis
    return len(points) == 2 and abs(points[0][other] - points[1][other]) < 1e-3 and abs(length(points) - 100) < 0.5


def check_bars(name: str, paths: list[list]) -> None:
    for axis, way in enumerate(["level", "upright"]):
        bars = [p for p in paths if is_bar(p, axis)]
        good = any(abs(length(bar) - 100) < FILE_MM for bar in bars)
        check(f"{name}: the {way} bar", good, f"{[length(bar) for bar in bars]}")


def straight_bores(dump: dict) -> list[dict]:
    bores = [p for p in dump["primitives"] if p["shape"] == "frustum" and abs(p["r_from"] - p["r_to"]) < 1e-9]
    return [p for p in bores if math.dist(p["from"], p["to"]) > 20]


def distance_to(point, path) -> float:
    """From a point to a line through points."""
    best = math.inf
    for a, b in zip(path, path[1:]):
        way = (b[0] - a[0], b[1] - a[1])
        square = way[0] ** 2 + way[1] ** 2
        part = 0 if square == 0 else ((point[0] - a[0]) * way[0] + (point[1] - a[1]) * way[1]) / square
        part = min(1.0, max(0.0, part))
        best = min(best, math.dist(point, (a[0] + part * way[0], a[1] + part * way[1])))
    return best


CORNER = re.compile(r"x (-?[\d.]+), y (-?[\d.]+) mm")


def check_template(program: Program, design: Path, paper: str) -> None:
    path = program.sheet(design, "template", "pdf", paper)
    dump = program.dump(design)
    windows = []
    with pdfplumber.open(path) as pdf:
        for number, page in enumerate(pdf.pages, 1):
            name = f"{path.name} page {number}"
            size = sorted((mm(float(page.width)), mm(float(page.height))))
            check(f"{name}: the paper", all(abs(a - b) < FILE_MM for a, b in zip(size, sorted(PAPERS[paper]))), f"{size}")
            drawn = lines_of(page)
            check_bars(name, [line["points"] for line in drawn])
            stated = CORNER.search(page.extract_text())
            if stated is None:
                check(f"{name}: only the map states no corner", number == 1)
                continue
            corner = (float(stated[1]), float(stated[2]))
            window = max(page.rects, key=lambda rect: rect["width"] * rect["height"])
            low = (mm(window["x0"]), mm(float(page.height) - window["bottom"]))
            shift = (corner[0] - low[0], corner[1] - low[1])
            shown = (corner, (corner[0] + mm(window["width"]), corner[1] + mm(window["height"])))
            windows.append(shown)
            for line in drawn:
                line["model"] = [(x + shift[0], y + shift[1]) for x, y in line["points"]]
            check_axes(name, drawn, dump)
            check_walls(name, drawn, dump)
    check_cover(path.name, windows, dump)


def check_axes(name: str, drawn: list[dict], dump: dict) -> None:
    axes = [line["model"] for line in drawn if line["dashed"] and len(line["points"]) > 1]
    for bore in straight_bores(dump):
        for end in (bore["from"], bore["to"]):
            off = min((distance_to(end, axis) for axis in axes), default=math.inf)
            check(f"{name}: the axis of {bore['piece']} at {end}", off < PAPER_MM, f"{off:.3f} mm off")


def check_walls(name: str, drawn: list[dict], dump: dict) -> None:
    """The inner walls of the longest straight bore, from end to end."""
    bore = max(straight_bores(dump), key=lambda p: math.dist(p["from"], p["to"]))
    start, end, radius = bore["from"], bore["to"], bore["r_from"]
    long = math.dist(start, end)
    along = ((end[0] - start[0]) / long, (end[1] - start[1]) / long)
    reach = []
    for line in drawn:
        if line["dashed"]:
            continue
        for a, b in zip(line["model"], line["model"][1:]):
            places = []
            for p in (a, b):
                d = (p[0] - start[0], p[1] - start[1])
                places.append((d[0] * along[0] + d[1] * along[1], abs(d[1] * along[0] - d[0] * along[1])))
            if all(abs(across - radius) < 0.02 for _, across in places) and abs(places[1][0] - places[0][0]) > 1:
                reach += [place for place, _ in places]
    good = bool(reach) and abs(min(reach)) < PAPER_MM and abs(max(reach) - long) < PAPER_MM
    ends = (round(min(reach), 3), round(max(reach), 3)) if reach else None
    check(f"{name}: the walls of {bore['piece']}, {long:.1f} mm", good, f"they run from {ends}")


def check_cover(name: str, windows: list, dump: dict) -> None:
    for bore in straight_bores(dump):
        for k in range(101):
            part = k / 100
            p = [a + (b - a) * part for a, b in zip(bore["from"], bore["to"])]
            good = any(low[0] <= p[0] <= high[0] and low[1] <= p[1] <= high[1] for low, high in windows)
            if not good:
                check(f"{name}: {bore['piece']} is on a tile", False, f"{p}")
                return
    check(f"{name}: all tubes are on tiles", True)
    for low, high in windows:
        beside = [other for other in windows if abs(other[0][1] - low[1]) < 0.05 and 0 < other[0][0] - low[0]]
        if beside:
            shared = high[0] - min(other[0][0] for other in beside)
            if shared > 0:
                check(f"{name}: overlap", shared >= OVERLAP_MM - 0.05, f"{shared:.3f} mm")


def check_dxf(program: Program, design: Path) -> None:
    path = program.sheet(design, "drawing", "dxf", "a3")
    drawing = ezdxf.readfile(path)
    errors = drawing.audit().errors
    check(f"{path.name}: no errors", not errors, f"{errors[:3]}")
    check(f"{path.name}: millimetres", drawing.units == 4, f"{drawing.units}")
    space = drawing.modelspace()
    lines = list(space.query('LINE[layer=="CENTRELINE"]'))
    lengths = [(line.dxf.end - line.dxf.start).magnitude for line in lines]
    for polyline in space.query('LWPOLYLINE[layer=="CENTRELINE"]'):
        points = [p[:2] for p in polyline.get_points()]
        lengths += [math.dist(a, b) for a, b in zip(points, points[1:])]
    dump = program.dump(design)
    bores = [p for p in straight_bores(dump) if "shape" in p]
    pieces = {p["piece"] for p in dump["primitives"] if p["shape"] == "torus"}
    for bore in bores:
        if bore["piece"] in pieces:
            long = math.dist(bore["from"], bore["to"])
            off = min((abs(long - known) for known in lengths), default=math.inf)
            check(f"{path.name}: axis of {bore['piece']}, {long:.2f} mm", off < FILE_MM, f"{off:.3f} mm off")
    radii = [arc.dxf.radius for arc in space.query('ARC[layer=="CENTRELINE"]')]
    for torus in (p for p in dump["primitives"] if p["shape"] == "torus"):
        good = any(abs(radius - torus["radius"]) < FILE_MM for radius in radii)
        check(f"{path.name}: bend of {torus['piece']}", good, f"{torus['radius']} is not among {radii}")
    texts = {text.dxf.text for text in space.query("TEXT")}
    check(f"{path.name}: names", {p["piece"] for p in dump["primitives"]} <= texts | {""}, f"{texts}")


def check_svg(program: Program, design: Path) -> None:
    path = program.sheet(design, "template", "svg")
    root = ElementTree.parse(path).getroot()
    box = [float(x) for x in root.get("viewBox").split()]
    stated = [float(root.get(key).removesuffix("mm")) for key in ("width", "height")]
    check(f"{path.name}: one unit is one millimetre", stated == box[2:], f"{stated} {box}")
    paths = []
    for element in root.iter("{http://www.w3.org/2000/svg}path"):
        data = element.get("d")
        if re.fullmatch(r"M[-\d. ]+L[-\d. ]+", data):
            numbers = [float(x) for x in re.findall(r"-?[\d.]+", data)]
            paths.append([(numbers[0], numbers[1]), (numbers[2], numbers[3])])
    check_bars(path.name, paths)
    drawing = program.sheet(design, "drawing", "svg", "a3")
    ElementTree.parse(drawing)


def check_pdf(program: Program, path: Path, title: str) -> None:
    sound = subprocess.run(["qpdf", "--check", str(path)], capture_output=True, text=True)
    check(f"{path.name}: qpdf", sound.returncode == 0, sound.stdout + sound.stderr)
    text = subprocess.run(["pdftotext", str(path), "-"], capture_output=True, text=True).stdout
    check(f"{path.name}: its title can be read", title in text, text[:200])
    reader = pypdf.PdfReader(path)
    root = reader.trailer["/Root"]
    check(f"{path.name}: title", title in (reader.metadata.title or ""), f"{reader.metadata}")
    check(f"{path.name}: language", root.get("/Lang") == "en", f"{root.get('/Lang')}")
    check(f"{path.name}: tags", "/StructTreeRoot" in root, f"{list(root)}")
    with pdfplumber.open(path) as pdf:
        for number, page in enumerate(pdf.pages, 1):
            check_texts(f"{path.name} page {number}", page)


def check_texts(name: str, page) -> None:
    """Texts lie on the page and not on each other."""
    edge = 4 * POINTS_PER_MM
    chars = [c for c in page.chars if c["text"].strip()]
    out = [c["text"] for c in chars if c["x0"] < edge or c["x1"] > float(page.width) - edge]
    out += [c["text"] for c in chars if c["top"] < edge or c["bottom"] > float(page.height) - edge]
    check(f"{name}: texts on the page", not out, "".join(out))

    def core(c):
        # The middle of a glyph's box: the boxes of neighbours in a line touch. The box of a slanting glyph is larger
        # than it, so that less is left of it.
        slants = min(abs(c["matrix"][0]), abs(c["matrix"][1])) > 1e-3
        part = 0.42 if slants else 0.3
        dx, dy = part * (c["x1"] - c["x0"]), part * (c["bottom"] - c["top"])
        return c["x0"] + dx, c["top"] + dy, c["x1"] - dx, c["bottom"] - dy

    boxes = sorted(((*core(c), c["text"]) for c in chars), key=lambda box: box[0])
    clashes = []
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            if b[0] >= a[2]:
                break
            if a[1] < b[3] and b[1] < a[3]:
                clashes.append(f"{a[4]}{b[4]} at {mm(a[0]):.0f}, {mm(a[1]):.0f} mm")
    check(f"{name}: no text on another", not clashes, "; ".join(clashes[:5]))


def check_refusals(program: Program, design: Path) -> None:
    out = program.folder / "refused.pdf"
    out.write_text("mine")
    no = program.run("sheet", str(design), "--what", "drawing", "--out", str(out))
    check("a file is kept", no.returncode == 2 and out.read_text() == "mine" and "--force" in no.stderr, no.stderr)
    for what, ending in [("template", "dxf"), ("order", "dxf"), ("run", "svg"), ("drawing", "csv")]:
        out = program.folder / f"refused.{ending}"
        no = program.run("sheet", str(design), "--what", what, "--out", str(out))
        check(f"no {what} as {ending}", no.returncode == 2 and not out.exists() and ending in no.stderr, no.stderr)
    no = program.run("sheet", str(design), "--what", "template", "--out", str(program.folder / "refused"))
    check("a format is needed", no.returncode == 2 and "--format" in no.stderr, no.stderr)


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", type=Path, required=True)
    parser.add_argument("--examples", type=Path, required=True)
    parser.add_argument("--only", default="")
    arguments = parser.parse_args()
    designs = sorted(p for p in arguments.examples.glob("*.json") if arguments.only in p.stem)
    with tempfile.TemporaryDirectory() as folder:
        program = Program(arguments.program, Path(folder))
        for design in designs:
            title = json.loads(design.read_text())["title"]
            for what in SHEETS:
                for paper in PAPERS if what == "template" else ["a4"]:
                    path = program.sheet(design, what, "pdf", paper)
                    first = path.read_bytes()
                    check_pdf(program, path, title)
                    again = program.sheet(design, what, "pdf", paper)
                    check(f"{path.name}: the same bytes twice", first == again.read_bytes())
            for paper in PAPERS:
                check_template(program, design, paper)
            check_dxf(program, design)
            first = program.sheet(design, "drawing", "dxf", "a3").read_bytes()
            again = program.sheet(design, "drawing", "dxf", "a3").read_bytes()
            check(f"{design.stem}: the same DXF twice", first == again)
            check_svg(program, design)
        check_refusals(program, designs[0])
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
