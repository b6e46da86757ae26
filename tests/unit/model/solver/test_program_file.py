"""Program files: read by SCIP, a solver unrelated to HiGHS, they have the same optimum."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import highspy
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyscipopt import Model
from scipy.sparse import csc_array

from model.network.expansion import expand
from model.program.build import build
from model.program.file_names import LONGEST, names
from model.program.program import Program
from model.program.variables import WHOLE
from model.scenario.entities import Scenario
from model.solver.compiled import EXACT, Compiled, compile_program, run, solver
from model.solver.program_file import column_names, row_names, write_program
from scenarios.files.read_scenario import read_scenario
from scenarios.variants.by_name import path_of
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_rows

LEGAL = string.ascii_letters + string.digits + "_.,()~#"
"""Characters that LP files allow in names, wherever they stand but at the start."""

PARTS = st.one_of(
    st.none(),
    st.floats(0.001, 1e6),
    st.dates().map(str),
    st.text(alphabet="ab _-.,~#()|+[]'\"=é日😀", min_size=1, max_size=6),
    st.text(min_size=1, max_size=400),
)
HOSTILE = (
    "end",
    "e 1",
    "e_1",
    "e.1",
    "e-1",
    "3 x1 + [x2^2] >= 7",
    "\\ comment",
    "* comment",
    "$ money, 'free' \"inf\"",
    "Bäume für Björn 日本 😀",
    "long " * 60 + "one",
    "long " * 60 + "two",
)


def hostile() -> Scenario:
    """An order for each of ``HOSTILE``, of products and lots whose names hold all that formats mistake."""
    base = base_scenario()
    varieties = {"Red": "Red + [2] x ^ 2 : <= -inf", "Stout": "\\Stout\tof | (bounds) \N{SNOWMAN}"}
    asked = base.orders[0]
    orders = tuple(replace(asked, order=name, quantity=10 + n) for n, name in enumerate(HOSTILE))
    named = replace(base, orders=orders)
    for table, column in (("seed_lots", "lot"), ("packs", "item")):
        named = with_rows(
            named,
            table,
            lambda row, column=column: replace(
                row, **{column: varieties[getattr(row, column).removesuffix(" A")]}
            ),
        )
    return named


SCENARIOS = {**SPECIMENS, "hostile names": hostile()}


@cache
def compiled_of(name: str) -> tuple[Program, Compiled]:
    """The program of a scenario, and its arrays."""
    program = build(expand(SCENARIOS[name]))
    return program, compile_program(program)


def optimum(path: Path, *, whole: bool) -> float:
    """Least cost of the program in a file, by SCIP."""
    scip = Model()
    scip.hideOutput()
    scip.readProblem(str(path))
    scip.setParam("limits/gap", 0.0)
    if not whole:
        for column in scip.getVars():
            scip.chgVarType(column, "CONTINUOUS")
    scip.optimize()
    assert scip.getStatus() == "optimal"
    return float(scip.getObjVal())


@pytest.mark.parametrize("ending", [".lp", ".mps"])
@pytest.mark.parametrize("name", SCENARIOS)
def test_another_solver_finds_the_same_continuous_optimum(name: str, ending: str, tmp_path: Path) -> None:
    program, compiled = compiled_of(name)
    path = tmp_path / f"program{ending}"
    write_program(program, compiled, path)
    least = run(solver(compiled)).objective
    assert optimum(path, whole=False) == pytest.approx(least, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("ending", [".lp", ".mps"])
@pytest.mark.parametrize(
    "name", ["on-tray", "units", "temporary hands", "wave cost", "packs", "hostile names"]
)
def test_another_solver_finds_the_same_whole_optimum(name: str, ending: str, tmp_path: Path) -> None:
    program, compiled = compiled_of(name)
    path = tmp_path / f"program{ending}"
    write_program(program, compiled, path)
    whole = run(solver(compiled, compiled.columns(WHOLE), **EXACT)).objective
    assert optimum(path, whole=True) == pytest.approx(whole, rel=1e-6, abs=1e-6)


def test_another_solver_finds_the_continuous_optimum_of_the_demo(tmp_path: Path) -> None:
    program = build(expand(read_scenario(path_of("hollow_ash"))))
    compiled = compile_program(program)
    write_program(program, compiled, tmp_path / "demo.mps")
    least = run(solver(compiled)).objective
    assert optimum(tmp_path / "demo.mps", whole=False) == pytest.approx(least, rel=1e-7)


@pytest.mark.parametrize("ending", [".lp", ".mps"])
@pytest.mark.parametrize("name", SCENARIOS)
def test_a_file_states_the_program_as_it_is_solved(name: str, ending: str, tmp_path: Path) -> None:
    """Read back: every number to the last bit, rows and columns in their order, whole variables integer."""
    program, compiled = compiled_of(name)
    path = tmp_path / f"program{ending}"
    write_program(program, compiled, path)
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    assert highs.readModel(str(path)) == highspy.HighsStatus.kOk
    lp = highs.getLp()
    assert lp.a_matrix_.format_ == highspy.MatrixFormat.kColwise
    assert list(lp.col_names_) == column_names(program, compiled)
    assert list(lp.row_names_) == row_names(compiled)
    assert np.array_equal(lp.col_cost_, compiled.cost)
    assert lp.offset_ == compiled.offset
    bounds = (compiled.lower, compiled.upper, compiled.row_lower, compiled.row_upper)
    for read, given_ in zip(
        (lp.col_lower_, lp.col_upper_, lp.row_lower_, lp.row_upper_), bounds, strict=True
    ):
        assert np.array_equal(read, given_)
    entries = lp.a_matrix_.value_, lp.a_matrix_.index_, lp.a_matrix_.start_
    assert (csc_array(entries, shape=compiled.matrix.shape) != compiled.matrix).nnz == 0
    integer = {n for n, kind in enumerate(lp.integrality_) if kind == highspy.HighsVarType.kInteger}
    assert integer == set(compiled.columns(WHOLE).tolist())


def test_names_tell_what_they_stand_for() -> None:
    joins = ("Amberfall on Stonebrook, 72", "2027-03-31", None, "Lot_7")
    assert names("joins", [joins]) == ["joins(Amberfall_on_Stonebrook~2c~_72,2027.03.31,,Lot~5f~7)"]
    assert names("packs_bought", [("seed", 1000.0), ("seed", 2.5)]) == [
        "packs_bought(seed,1000)",
        "packs_bought(seed,2~2e~5)",
    ]
    long = names("order", [("a" * 300,), ("a" * 300 + "b",)])
    assert [name[-6:] for name in long] == ["aaa#0)", "aaa#1)"]
    assert {len(name) for name in long} == {LONGEST}


def _meant(name: str) -> Iterator[str]:
    """The parts of a label that a name stands for, as text."""
    plain = {"_": " ", ".": "-"}
    for part in name[name.index("(") + 1 : -1].split(","):
        pieces = re.findall("~([0-9a-f]+)~|(.)", part)
        yield "".join(chr(int(code, 16)) if code else plain.get(other, other) for code, other in pieces)


@given(st.lists(st.tuples(PARTS, PARTS), unique_by=lambda label: tuple(map(_text, label)), max_size=8))
def test_names_are_legal_unlike_and_can_be_read_back(labels: list[tuple[str | float | None, ...]]) -> None:
    made = names("joins", labels)
    assert len(set(made)) == len(labels)
    for name, label in zip(made, labels, strict=True):
        assert set(name) <= set(LEGAL)
        assert len(name) <= LONGEST
        if "#" not in name:
            assert list(_meant(name)) == [_text(part) for part in label]


def _text(part: str | float | None) -> str:
    return "" if part is None else part if isinstance(part, str) else f"{part:.17g}"
