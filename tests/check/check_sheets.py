"""Checks the sheets for the workshop with libraries that read PDF, DXF and SVG.

    python check_sheets.py --program PATH --examples FOLDER [--only NAME]

Makes every sheet of every example and looks at what was written:

* every PDF passes `qpdf --check`, has a title, a language and a tag tree, and `pdftotext` finds the design's name on
  it; every text lies on its page, at least 4 mm from the edge, and on no other text; the same order gives the same
  bytes twice;
* full-size template, on every paper: both check bars of every page are 100 mm long; every straight tube's axis lies
  where the neutral dump of the design has it, by the corner that the page states; the inner walls of the longest
  straight tube are as long as its bore; neighbouring frames overlap by what is stated, and together they cover all walls;
* template and drawing as SVG, and the template's pages, are rasterised, the former by resvg, the latter by poppler: in
  the raster both check bars are 100 mm long, and the walls of every straight tube stand where the dump has its bore;
* drawing as DXF: no error is found, the unit is the millimetre, the day is the one given in every time zone, and axes
  and bends are as long and as wide as in the dump;
* what can't be is refused, and no file is replaced without being told so; measured fills come with the dossier.

Lengths on paper may deviate by 0.1 mm, lengths in files by 0.02 mm. Each design is checked in a process of its own. The
last line reads `N passed, N failed`; the exit status is 1 when anything failed.
"""

from __future__ import annotations

import argparse
import io
import json
import math
import os
import re
import subprocess
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy
import pdfplumber
import pypdf
import resvg_py
from PIL import Image

POINTS_PER_MM = 72 / 25.4
PAPER_MM = 0.1
FILE_MM = 0.02
OVERLAP_MM = 10.0
DATE = "2026-01-31"
JULIAN_DAY = 2461072
RASTER_PER_MM = 10
PAPERS = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
SHEETS = ["template", "drawing", "cuts", "assembly", "run", "order", "dossier"]

passed = failed = 0


def check(what: str, good: bool, detail: str = "") -> bool:
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED {what}: {detail}", flush=True)
    return good


class Program:
    def __init__(self, path: Path, folder: Path):
        self.path, self.folder = path, folder

    def run(self, *arguments: str, zone: str = "UTC") -> subprocess.CompletedProcess:
        environment = {**os.environ, "TZ": zone}
        return subprocess.run([str(self.path), *arguments], capture_output=True, text=True, env=environment)

    def sheet(self, design: Path, what: str, ending: str, paper: str = "a4", zone: str = "UTC") -> Path:
        out = self.folder / f"{design.stem}-{what}-{paper}.{ending}"
        order = ["--what", what, "--paper", paper, "--out", str(out), "--date", DATE, "--force"]
        made = self.run("sheet", str(design), *order, zone=zone)
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
            if paper == "a4":
                raster = raster_of_pdf(path, number)
                high = mm(float(page.height))
                check_bars_in_raster(name, raster, [[(x, high - y) for x, y in line["points"]] for line in drawn])
                # From the model, y up, to the page, y down.
                inside = (low, (low[0] + mm(window["width"]), low[1] + mm(window["height"])))
                place = lambda p: (p[0] - shift[0], high - p[1] + shift[1])
                frame = ((inside[0][0], high - inside[1][1]), (inside[1][0], high - inside[0][1]))
                check_bores_in_raster(name, raster, dump, place, frame)
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


def raster_of_pdf(path: Path, number: int) -> numpy.ndarray:
    """A page as shades of grey, 0 black."""
    dots = str(round(RASTER_PER_MM * 25.4))
    made = subprocess.run(
        ["pdftoppm", "-gray", "-r", dots, "-f", str(number), "-l", str(number), str(path)], capture_output=True, check=True
    )
    return numpy.asarray(Image.open(io.BytesIO(made.stdout)), dtype=float)


def raster_of_svg(path: Path) -> numpy.ndarray:
    """The picture as shades of grey, 0 black, as large as it says that it is."""
    png = resvg_py.svg_to_bytes(svg_path=str(path), dpi=RASTER_PER_MM * 25.4, skip_system_fonts=True)
    Image.MAX_IMAGE_PIXELS = None
    return numpy.asarray(Image.open(io.BytesIO(bytes(png))).convert("L"), dtype=float)


def shades(raster: numpy.ndarray, points: numpy.ndarray) -> numpy.ndarray:
    """Darkness at points in millimetres from the upper left corner, between the middles of pixels in proportion."""
    at = points * RASTER_PER_MM - 0.5
    low = numpy.floor(at).astype(int)
    part = at - low
    height, width = raster.shape
    pick = lambda dx, dy: raster[
        numpy.clip(low[:, 1] + dy, 0, height - 1), numpy.clip(low[:, 0] + dx, 0, width - 1)
    ]
    above = pick(0, 0) * (1 - part[:, 0]) + pick(1, 0) * part[:, 0]
    below = pick(0, 1) * (1 - part[:, 0]) + pick(1, 1) * part[:, 0]
    return 255 - (above * (1 - part[:, 1]) + below * part[:, 1])


def line_near(raster: numpy.ndarray, middle, way, reach: float = 0.45) -> float | None:
    """How far from a point, along a way, the middle of a dark line lies; none where there is none."""
    steps = numpy.arange(-reach, reach, 0.01)
    dark = shades(raster, numpy.array(middle) + steps[:, None] * numpy.array(way))
    dark[dark < 60] = 0
    return float((steps * dark).sum() / dark.sum()) if dark.sum() > 0 else None


def check_bars_in_raster(name: str, raster: numpy.ndarray, paths: list[list]) -> None:
    """The marks at both ends of a bar are 100 mm apart."""
    for axis, way in enumerate(["level", "upright"]):
        bars = [path for path in paths if is_bar(path, axis)]
        along = (1.0, 0.0) if axis == 0 else (0.0, 1.0)
        # The marks at the ends are longer than those between them, and stand above or left of the bar.
        beside = (0.0, -2.3) if axis == 0 else (-2.3, 0.0)
        lengths = []
        for start, end in bars:
            found = [line_near(raster, (x + beside[0], y + beside[1]), along) for x, y in (start, end)]
            if None not in found:
                lengths.append(abs(length((start, end)) * (1 if end[axis] > start[axis] else -1) + found[1] - found[0]))
        good = any(abs(known - 100) < PAPER_MM for known in lengths)
        check(f"{name}: the {way} bar in the raster", good, f"{lengths}")


def check_bores_in_raster(name: str, raster: numpy.ndarray, dump: dict, place, frame) -> int:
    """The walls of straight tubes stand to both sides of the axis at the radius of the bore; gives how many were seen."""
    seen = 0
    for bore in straight_bores(dump):
        start, end = place(bore["from"]), place(bore["to"])
        long = math.dist(start, end)
        way = ((end[0] - start[0]) / long, (end[1] - start[1]) / long)
        across = (-way[1], way[0])
        off = []
        for k in range(1, 20):
            middle = tuple(a + (b - a) * k / 20 for a, b in zip(start, end))
            if not all(low + 12 < x < high - 12 for x, low, high in zip(middle, *frame)):
                continue
            walls = []
            for side in (-1, 1):
                at = tuple(m + side * bore["r_from"] * a for m, a in zip(middle, across))
                walls.append(line_near(raster, at, across))
            if None not in walls:
                off.append(max(abs(wall) for wall in walls))
        # Where another tube is fused on, a wall is open; lines of dimensions cross some.
        if len(off) >= 5:
            typical = sorted(off)[len(off) // 2]
            check(f"{name}: the walls of {bore['piece']} in the raster", typical < PAPER_MM, f"{typical:.3f} mm off")
            seen += 1
    return seen


def check_svg_in_raster(path: Path, dump: dict, has_bars: bool) -> None:
    root = ElementTree.parse(path).getroot()
    stated = [float(root.get(key).removesuffix("mm")) for key in ("width", "height")]
    raster = raster_of_svg(path)
    size = [raster.shape[1] / RASTER_PER_MM, raster.shape[0] / RASTER_PER_MM]
    check(f"{path.name}: as large as stated", all(abs(a - b) <= 0.2 for a, b in zip(size, stated)), f"{size} {stated}")
    if has_bars:
        check_bars_in_raster(path.name, raster, straight_lines(root))
    # Where the model lies on the sheet: the shift at which most ends of tubes meet ends of centrelines.
    ends = [end for bore in straight_bores(dump) for end in (bore["from"], bore["to"])]
    votes = Counter()
    for element in root.iter("{http://www.w3.org/2000/svg}path"):
        if element.get("class") == "centreline":
            numbers = [float(x) for x in re.findall(r"-?[\d.]+", element.get("d").split("A")[0])]
            for x, y in zip(numbers[::2], numbers[1::2]):
                votes.update((round(x - end[0], 1), round(y + end[1], 1)) for end in ends)
    (rough, count) = votes.most_common(1)[0]
    check(f"{path.name}: the model is found", count >= 3, f"{count} ends")
    frame = ((0.0, 0.0), tuple(stated))
    seen = check_bores_in_raster(path.name, raster, dump, lambda p: (p[0] + rough[0], rough[1] - p[1]), frame)
    check(f"{path.name}: walls are seen in the raster", seen >= 3, f"{seen}")


def check_dxf(program: Program, design: Path) -> None:
    path = program.sheet(design, "drawing", "dxf", "a3")
    drawing = ezdxf.readfile(path)
    errors = drawing.audit().errors
    check(f"{path.name}: no errors", not errors, f"{errors[:3]}")
    check(f"{path.name}: millimetres", drawing.units == 4, f"{drawing.units}")
    # The library puts the day on which it reads in the place of the one that it has read.
    days = [float(day) for day in re.findall(r"\$TDU?(?:CREATE|PDATE|UPDATE)\s+40\s+([\d.]+)", path.read_text())]
    check(f"{path.name}: the day", len(days) == 4 and all(abs(day - JULIAN_DAY) < 1e-4 for day in days), f"{days}")
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
    # A fitting's name is followed by what it is.
    texts = {text.dxf.text.split(", ")[0] for text in space.query("TEXT")}
    check(f"{path.name}: names", {p["piece"] for p in dump["primitives"]} <= texts | {""}, f"{texts}")
    kept = path.read_bytes()
    for zone in ["Asia/Kathmandu", "America/St_Johns"]:
        again = program.sheet(design, "drawing", "dxf", "a3", zone=zone)
        check(f"{path.name}: the same bytes in {zone}", kept == again.read_bytes())


def check_svg(program: Program, design: Path) -> None:
    path = program.sheet(design, "template", "svg")
    root = ElementTree.parse(path).getroot()
    box = [float(x) for x in root.get("viewBox").split()]
    stated = [float(root.get(key).removesuffix("mm")) for key in ("width", "height")]
    check(f"{path.name}: one unit is one millimetre", stated == box[2:], f"{stated} {box}")
    check_bars(path.name, straight_lines(root))
    dump = program.dump(design)
    check_svg_in_raster(path, dump, has_bars=True)
    check_svg_in_raster(program.sheet(design, "drawing", "svg"), dump, has_bars=False)


def straight_lines(root) -> list[list]:
    paths = []
    for element in root.iter("{http://www.w3.org/2000/svg}path"):
        data = element.get("d")
        if re.fullmatch(r"M[-\d. ]+L[-\d. ]+", data):
            numbers = [float(x) for x in re.findall(r"-?[\d.]+", data)]
            paths.append([(numbers[0], numbers[1]), (numbers[2], numbers[3])])
    return paths


def check_pdf(path: Path, title: str, with_texts: bool = True) -> None:
    sound = subprocess.run(["qpdf", "--check", str(path)], capture_output=True, text=True)
    check(f"{path.name}: qpdf", sound.returncode == 0, sound.stdout + sound.stderr)
    text = subprocess.run(["pdftotext", str(path), "-"], capture_output=True, text=True).stdout
    check(f"{path.name}: its title can be read", title in text, text[:200])
    reader = pypdf.PdfReader(path)
    root = reader.trailer["/Root"]
    check(f"{path.name}: title", title in (reader.metadata.title or ""), f"{reader.metadata}")
    check(f"{path.name}: language", root.get("/Lang") == "en", f"{root.get('/Lang')}")
    check(f"{path.name}: tags", "/StructTreeRoot" in root, f"{list(root)}")
    if not with_texts:
        return
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


def check_measured(program: Program, design: Path) -> None:
    """Fills that were measured have a sheet, and come with the dossier."""
    no = program.run("sheet", str(design), "--what", "measured", "--out", str(program.folder / "none.pdf"))
    check("nothing measured, no sheet of it", no.returncode != 0 and "no fill" in no.stderr, no.stderr)
    made = json.loads(design.read_text())
    row = made["rows"][0]
    names = [f"{row['name']}-{k + 1}" for k in range(row["count"])]
    made["run"]["measured"] = [{"piece": name, "volume_ml": 2.0 + 0.1 * k} for k, name in enumerate(names)]
    path = program.folder / "measured.json"
    path.write_text(json.dumps(made))
    sheet = program.sheet(path, "measured", "pdf")
    check_pdf(sheet, made["title"])
    text = subprocess.run(["pdftotext", "-layout", str(sheet), "-"], capture_output=True, text=True).stdout
    good = all(re.search(rf"{name}\s+[\d.]+\s+[\d.]+\s+{2.0 + 0.1 * k:.3f}", text) for k, name in enumerate(names))
    check("measured fills are on their sheet", good, text)
    dossier = program.sheet(path, "dossier", "pdf")
    text = subprocess.run(["pdftotext", str(dossier), "-"], capture_output=True, text=True).stdout
    check("measured fills come with the dossier", "Differences, root mean square" in text)


def check_design(arguments: tuple[Path, Path]) -> tuple[int, int]:
    """How much passed and failed of one design."""
    global passed, failed
    (path, design), passed, failed = arguments, 0, 0
    title = json.loads(design.read_text())["title"]
    with tempfile.TemporaryDirectory() as folder:
        program = Program(path, Path(folder))
        for what in SHEETS:
            for paper in PAPERS if what in ("template", "drawing") else ["a4"]:
                sheet = program.sheet(design, what, "pdf", paper)
                first = sheet.read_bytes()
                # The dossier has the pages of all sheets on A4.
                check_pdf(sheet, title, with_texts=what == "dossier" or paper != "a4")
                if paper == "a4":
                    again = program.sheet(design, what, "pdf", paper)
                    check(f"{sheet.name}: the same bytes twice", first == again.read_bytes())
        for paper in PAPERS:
            check_template(program, design, paper)
        check_dxf(program, design)
        check_svg(program, design)
    return passed, failed


def check_once(arguments: tuple[Path, Path]) -> tuple[int, int]:
    """The same for what one design shows for all."""
    global passed, failed
    (path, design), passed, failed = arguments, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        program = Program(path, Path(folder))
        check_refusals(program, design)
        check_measured(program, design)
    return passed, failed


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", type=Path, required=True)
    parser.add_argument("--examples", type=Path, required=True)
    parser.add_argument("--only", default="")
    arguments = parser.parse_args()
    designs = sorted(p for p in arguments.examples.glob("*.json") if arguments.only in p.stem)
    with ProcessPoolExecutor() as pool:
        made = [pool.submit(check_design, (arguments.program, design)) for design in designs]
        made.append(pool.submit(check_once, (arguments.program, designs[-1])))
        counts = [one.result() for one in made]
    passed, failed = (sum(count[k] for count in counts) for k in (0, 1))
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
