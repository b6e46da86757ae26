"""Charts: every value is drawn where its axis says and told in words; series differ without colour."""

from __future__ import annotations

import math
import re
import struct
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.book.parts import SheetColumn
from reports.book.style import CellKind
from reports.study.charts import HEIGHT_ABOVE, PLOT_HEIGHT, WIDTH, ZOOM, svg_of, write_pictures, write_png
from reports.study.patterns import fill_of, line_of, mark_of
from reports.study.study import Chart, Section, write_study
from tests.pages import HOSTILE, SVG, chart, hostile_study, section, study
from tests.scenario_parts import day

KINDS = ("line", "points", "columns", "stacked")


def drawn(given_section: Section, given_chart: Chart) -> ET.Element:
    return ET.fromstring(svg_of(given_section, given_chart, decimals=2))


def marks(svg: ET.Element) -> list[ET.Element]:
    return [element for element in svg.iter() if element.get("role") == "graphics-symbol"]


def told(svg: ET.Element) -> list[str]:
    return [str(mark.get("aria-label")) for mark in marks(svg)]


def many(count: int, rows: int = 3) -> tuple[Section, Chart]:
    """A section with that many series, and a chart of them all."""
    keys = tuple(f"s{n}" for n in range(count))
    columns = [
        SheetColumn("x", "Product"),
        *(SheetColumn(key, f"{key} (EUR)", CellKind.MONEY) for key in keys),
    ]
    cells = [[f"product {row}", *(1.0 + n + row for n in range(count))] for row in range(rows)]
    return Section("S", "", [], columns, cells), Chart("stacked", "T", "A", "x", keys, "EUR")


@pytest.mark.parametrize("kind", KINDS)
def test_every_value_is_told_and_a_gap_is_not(kind: str) -> None:
    made = told(drawn(section(), chart(kind)))
    expected = [f"{day(7 * n).isoformat()}, Red (plants): {1000 + n:,}" for n in range(4)]
    expected += [f"{day(7 * n).isoformat()}, Blue (plants): {10 * n}" for n in (0, 2, 3)]
    if kind == "stacked":
        expected.remove(f"{day(0).isoformat()}, Blue (plants): 0")
    assert made == expected


def test_one_mark_alone_is_a_stop_of_the_tab_key() -> None:
    for kind in KINDS:
        stops = [mark.get("tabindex") for mark in marks(drawn(section(), chart(kind)))]
        assert stops == ["0", *["-1"] * (len(stops) - 1)]


def test_a_gap_stays_a_gap_in_a_line() -> None:
    svg = drawn(section(), chart("line", y=("blue",)))
    (line,) = (path.get("d", "") for path in svg.iter(f"{SVG}path") if path.get("stroke-width") == "2")
    assert [part[0] for part in line.split(" ")] == ["M", "M", "L"]


def test_rows_and_lines_are_those_asked_for() -> None:
    made = told(drawn(section(), chart("columns", y=("red",), lines=("most",), rows=(1, 3))))
    assert made == [
        *(f"{day(7 * n).isoformat()}, Red (plants): {1000 + n:,}" for n in (1, 2)),
        *(f"{day(7 * n).isoformat()}, Most: 1,500.5" for n in (1, 2)),
    ]


def bars(svg: ET.Element) -> list[tuple[float, float, float]]:
    """Left edge, top and height of each column."""
    return [
        tuple(float(str(mark.get(name))) for name in ("x", "y", "height"))  # type: ignore[misc]
        for mark in marks(svg)
    ]


def test_stacked_columns_stand_on_each_other_to_scale() -> None:
    given_section, given_chart = many(3, rows=1)
    found = bars(drawn(given_section, given_chart))
    assert len({left for left, _, _ in found}) == 1
    for (_, top, _), (_, above, height) in pairwise(found):
        assert above + height == pytest.approx(top, abs=0.02)
    heights = [height for _, _, height in found]
    assert [height / heights[0] for height in heights] == pytest.approx([1, 2, 3], abs=0.01)


def test_income_hangs_below_the_axis() -> None:
    columns = [SheetColumn("x", "Line"), SheetColumn("y", "Amount", CellKind.MONEY)]
    given_section = Section("S", "", [], columns, [["cost", 30.0], ["income", -10.0]])
    (_, top, height), (_, below, depth) = bars(
        drawn(given_section, Chart("columns", "T", "A", "x", ("y",), "EUR"))
    )
    assert below == pytest.approx(top + height, abs=0.02)
    assert height == pytest.approx(3 * depth, abs=0.05)


@given(st.lists(st.one_of(st.none(), st.floats(-1e9, 1e9)), min_size=1, max_size=8), st.sampled_from(KINDS))
def test_all_is_drawn_within_the_plot_in_the_order_of_the_values(
    values: list[float | None], kind: str
) -> None:
    columns = [SheetColumn("x", "Name"), SheetColumn("y", "Value", CellKind.MONEY)]
    given_section = Section("S", "", [], columns, [[f"n{n}", value] for n, value in enumerate(values)])
    svg = drawn(given_section, Chart(kind, "T", "A", "x", ("y",), "EUR"))  # type: ignore[arg-type]
    ends: list[tuple[float, float]] = []
    shown = [value for value in values if value is not None and not (kind == "stacked" and value == 0)]
    assert len(marks(svg)) == len(shown)
    for mark, value in zip(marks(svg), shown, strict=True):
        if kind in ("line", "points"):
            y = float(re.findall(r"[\d.]+", str(mark.get("transform")))[1])
        else:
            top, height = float(str(mark.get("y"))), float(str(mark.get("height")))
            y = top if value >= 0 else top + height
        assert HEIGHT_ABOVE - 0.6 <= y <= HEIGHT_ABOVE + PLOT_HEIGHT + 0.6
        ends.append((value, y))
    for (low, under), (high, over) in pairwise(sorted(ends)):
        assert over <= under + 0.6, (low, high)


def texts(svg: ET.Element) -> list[str]:
    return [text.text or "" for text in svg.iter(f"{SVG}text")]


@given(st.floats(1e-5, 1e12))
def test_the_axis_has_few_round_steps(top: float) -> None:
    columns = [SheetColumn("x", "Name"), SheetColumn("y", "Value", CellKind.MONEY)]
    svg = drawn(Section("S", "", [], columns, [["a", top]]), Chart("columns", "T", "A", "x", ("y",), "EUR"))
    ticks = [float(text.replace(",", "")) for text in texts(svg) if re.fullmatch(r"[\d,.]+", text)]
    assert 3 <= len(ticks) <= 7
    steps = [after - before for before, after in pairwise(ticks)]
    assert steps == pytest.approx([steps[0]] * len(steps))
    leading = steps[0] / 10 ** math.floor(math.log10(steps[0] * (1 + 1e-9)))
    assert min(abs(leading - round_) for round_ in (1, 2, 2.5, 5)) < 1e-6
    assert ticks[0] == 0
    assert ticks[-2] < top <= ticks[-1] * (1 + 1e-9)


def test_an_axis_that_begins_above_nothing_says_so() -> None:
    close = [["a", 296.0], ["b", 294.0]]
    columns = [SheetColumn("x", "Name"), SheetColumn("y", "Value", CellKind.MONEY)]
    for kind, says in (("line", True), ("columns", False)):
        given_chart = Chart(kind, "T", "A", "x", ("y",), "EUR")  # type: ignore[arg-type]
        shown = texts(drawn(Section("S", "", [], columns, close), given_chart))
        assert ("EUR (axis begins above 0)" in shown) is says


@pytest.mark.parametrize(
    "kind, values, starts, says",
    [
        ("columns", [296.0, 294.0], 0.0, False),
        ("line", [296.0, 94.0], 0.0, False),
        ("line", [296.0, 294.0], None, True),
        ("points", [0.97, 0.93], 0.9, True),
        ("columns", [-2.0, 5.0], None, False),
    ],
)
def test_so_does_the_axis_of_a_workbook(
    kind: str, values: list[float], starts: float | None, says: bool, tmp_path: Path
) -> None:
    """Without a start of its own, an axis follows its values, which a reader may change."""
    columns = [SheetColumn("x", "Name"), SheetColumn("y", "Value", CellKind.MONEY)]
    asked = Chart(kind, "T", "A", "x", ("y",), "EUR")  # type: ignore[arg-type]
    rows = [[f"row {n}", value] for n, value in enumerate(values)]
    write_study(
        replace(study(), sections=[Section("S", "", [], columns, rows, [asked])]), tmp_path / "s.xlsx"
    )
    axis = openpyxl.load_workbook(tmp_path / "s.xlsx")["S"]._charts[0].y_axis
    assert axis.scaling.min == starts
    title = "".join(run.t for line in axis.title.tx.rich.p for run in line.r)
    assert title == ("EUR (axis begins above 0)" if says else "EUR")


def test_series_of_columns_differ_by_pattern() -> None:
    given_section, given_chart = many(15)
    svg = drawn(given_section, given_chart)
    paths = [pattern.find(f"{SVG}path") for pattern in svg.iter(f"{SVG}pattern")]
    looks = {(path.get("d"), path.get("stroke-width")) for path in paths if path is not None}
    assert len(looks) == 14
    assert [fill_of(n)[1] for n in range(15)].count(None) == 1
    held = {element.get("id") for element in svg.iter()}
    for mark in marks(svg):
        fill = str(mark.get("fill"))
        assert fill.startswith("#") or fill[5:-1] in held


def test_lines_differ_by_dash_and_mark_and_points_by_mark() -> None:
    assert len({line_of(n) for n in range(36)}) == 36
    given_section, given_chart = many(12)
    svg = drawn(given_section, Chart("line", "T", "A", "x", given_chart.y, "EUR"))
    dashes = [path.get("stroke-dasharray") for path in svg.iter(f"{SVG}path") if path.get("stroke-dasharray")]
    shapes = {
        (mark.get("d"), dash) for mark, dash in zip(marks(svg)[::3], dashes[len(dashes) // 2 :], strict=True)
    }
    assert len(shapes) == 12
    assert len({mark_of(n) for n in range(6)}) == 6


def test_one_series_has_no_legend_and_two_have_one() -> None:
    assert "Red (plants)" not in texts(drawn(section(), chart("columns", y=("red",))))
    assert {"Red (plants)", "Blue (plants)"} <= {*texts(drawn(section(), chart("columns")))}


def test_many_weeks_leave_out_labels_and_no_value() -> None:
    svg = drawn(section(rows=200), chart("columns", y=("red",)))
    assert len(marks(svg)) == 200
    labels = [text for text in texts(svg) if re.fullmatch(r"\d{4}-\d\d-\d\d", text)]
    assert 30 < len(labels) < 100


def test_a_long_name_is_cut_on_the_axis_and_whole_in_its_mark() -> None:
    columns = [SheetColumn("x", "Name"), SheetColumn("y", "Value", CellKind.MONEY)]
    name = "A name " * 20
    svg = drawn(Section("S", "", [], columns, [[name, 1.0]]), Chart("columns", "T", "A", "x", ("y",), ""))
    assert told(svg) == [f"{name}, Value: 1.00"]
    assert any("…" in text and name.startswith(text.split("…")[0]) for text in texts(svg))


def test_labels_of_long_names_that_differ_at_their_end_differ() -> None:
    columns = [SheetColumn("x", "Name"), SheetColumn("y", "Value", CellKind.MONEY)]
    rows = [[f"{'A name ' * 20}, {cells}", 1.0] for cells in (50, 72)]
    shown = texts(drawn(Section("S", "", [], columns, rows), Chart("columns", "T", "A", "x", ("y",), "")))
    assert len({text for text in shown if "…" in text}) == 2


def size_of(png: Path) -> tuple[int, int]:
    """Width and height by the header of a PNG (ISO/IEC 15948)."""
    data = png.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", data[16:24])
    return width, height


@pytest.mark.parametrize("kind", KINDS)
def test_the_picture_is_the_drawing_in_pixels(kind: Any, tmp_path: Path) -> None:
    write_png(section(), chart(kind), tmp_path / "a.png", decimals=2)
    write_png(section(), chart(kind), tmp_path / "b.png", decimals=2)
    svg = drawn(section(), chart(kind))
    assert size_of(tmp_path / "a.png") == (
        math.ceil(WIDTH * ZOOM),
        math.ceil(float(str(svg.get("height"))) * ZOOM),
    )
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_words_are_drawn_whatever_fonts_there_are(tmp_path: Path) -> None:
    write_png(section(), chart("columns"), tmp_path / "a.png", decimals=2)
    write_png(section(), chart("columns", title=" "), tmp_path / "b.png", decimals=2)
    assert len((tmp_path / "a.png").read_bytes()) > len((tmp_path / "b.png").read_bytes())


def test_pictures_are_numbered_and_told_in_words(tmp_path: Path) -> None:
    given_study = study(
        section(chart(), chart("line", title="=1+1")), section(name="empty", rows=0), section(chart("points"))
    )
    write_pictures(given_study, tmp_path / "pictures")
    names = sorted(path.name for path in (tmp_path / "pictures").iterdir())
    assert names == ["01.png", "02.png", "03.png", "alt_texts.txt"]
    told_in = (tmp_path / "pictures" / "alt_texts.txt").read_text(encoding="utf-8").splitlines()
    assert told_in == [
        "01.png: Plants. Columns: plants. Numbers in the table above.",
        "02.png: =1+1. Columns: plants. Numbers in the table above.",
        "03.png: Plants. Columns: plants. Numbers in the table above.",
    ]


def test_a_study_without_charts_has_no_pictures(tmp_path: Path) -> None:
    write_pictures(study(section()), tmp_path / "pictures")
    assert not (tmp_path / "pictures").exists()


def test_hostile_names_are_drawn_as_text(tmp_path: Path) -> None:
    write_pictures(hostile_study(), tmp_path / "pictures")
    assert size_of(tmp_path / "pictures" / "01.png")[0] == math.ceil(WIDTH * ZOOM)
    text = (tmp_path / "pictures" / "alt_texts.txt").read_text(encoding="utf-8")
    assert text.startswith(f"01.png: {HOSTILE}. {HOSTILE}")
