"""The front doors for a Python user: which they are, what they do, and that they load nothing early."""

import subprocess
import sys
from dataclasses import replace
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest

import model
import model.planned.plan_tables
import model.proof.audit
import model.scenario.entities
import model.solve
import model.solver.compiled
import scenarios
import scenarios.cells.faults
import scenarios.files.write_scenario
import scenarios.variants.by_name
from model.scenario.entities import Scenario
from scenarios.commands.command_line import main
from scenarios.files.read_scenario import Overrides, read_scenario
from scenarios.variants.variants import read_variant
from tests.places import DEMO, ROOT
from tests.strategies import base_scenario

HEAVY = ("highspy", "numpy", "openpyxl", "pandas", "pyomo", "rich", "scipy", "xlsxwriter")


def test_the_front_doors_are_these() -> None:
    assert model.__all__ == ["Check", "Plan", "Scenario", "SolveError", "audit", "plan"]
    assert scenarios.__all__ == ["BadInput", "read", "write"]
    assert dir(model) == model.__all__
    assert dir(scenarios) == scenarios.__all__


def test_each_is_the_one_thing_of_its_name() -> None:
    assert model.Check is model.proof.audit.Check
    assert model.Plan is model.planned.plan_tables.Plan
    assert model.Scenario is model.scenario.entities.Scenario
    assert model.SolveError is model.solver.compiled.SolveError
    assert model.audit is model.proof.audit.audit
    assert model.plan is model.solve.plan
    assert scenarios.BadInput is scenarios.cells.faults.BadInput
    assert scenarios.read is scenarios.variants.by_name.read
    assert scenarios.write is scenarios.files.write_scenario.write


@pytest.mark.parametrize("package", [model, scenarios])
def test_another_name_is_refused(package: object) -> None:
    with pytest.raises(AttributeError, match=r"^module '(model|scenarios)' has no attribute 'nonsense'$"):
        _ = package.nonsense  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "code",
    [
        "import model, reports, scenarios",
        "import model.scenario.entities",
        "from scenarios.commands.command_line import parser; parser()",
    ],
)
def test_nothing_heavy_is_loaded_before_it_is_asked_for(code: str) -> None:
    told = subprocess.run(
        [
            sys.executable,
            "-c",
            f"{code}\nimport sys\nprint(*[name for name in {HEAVY} if name in sys.modules])",
        ],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    assert told.stdout == "\n"


def test_a_scenario_is_planned_and_its_plan_proved() -> None:
    scenario = base_scenario()
    plan = model.plan(scenario)
    assert all(check.passed for check in model.audit(scenario, plan))
    assert plan.short == 0
    assert 0 < model.plan(scenario, whole=False).cost <= plan.cost
    assert not all(check.passed for check in model.audit(_with_quantities(5), plan))


def test_read_takes_what_the_command_line_takes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    demo = read_scenario(DEMO)
    scenarios.write(demo, tmp_path / "mine.xlsx")
    variant = Path("hollow_ash", "variants", "all_bought_in.toml")
    monkeypatch.chdir(tmp_path)
    for name in ("hollow_ash", str(DEMO), DEMO, "mine.xlsx", tmp_path / "mine.xlsx"):
        assert scenarios.read(name) == demo
    assert scenarios.read(variant) == read_variant(DEMO / "variants" / variant.name).scenario != demo


def test_a_users_own_folder_comes_before_what_is_shipped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenarios.write(base_scenario(), tmp_path / "hollow_ash")
    monkeypatch.chdir(tmp_path)
    assert scenarios.read("hollow_ash") == base_scenario()


def test_read_takes_today_and_progress() -> None:
    today, progress = date(2027, 3, 22), "hollow_ash/records/progress.csv"
    told = Overrides(today, DEMO / "records" / "progress.csv")
    found = scenarios.read("hollow_ash", today=today, progress=progress)
    assert found == read_scenario(DEMO, told)
    assert found.nursery.today == today
    assert len(found.progress) > 10


def test_what_cannot_be_read_is_told_with_every_fault(tmp_path: Path) -> None:
    with pytest.raises(scenarios.BadInput, match="does not exist"):
        scenarios.read(tmp_path / "nothing")
    scenarios.write(_with_quantities(-1, -2), tmp_path / "wrong")
    with pytest.raises(scenarios.BadInput) as told:
        scenarios.read(tmp_path / "wrong")
    assert [(fault.table, fault.row, fault.column, fault.value) for fault in told.value.faults] == [
        ("orders", 2, "quantity", "-1"),
        ("orders", 3, "quantity", "-2"),
    ]


def _with_quantities(*quantities: int) -> Scenario:
    base = base_scenario()
    orders = tuple(
        replace(base.orders[0], order=f"O-{n}", quantity=quantity) for n, quantity in enumerate(quantities)
    )
    return replace(base, orders=orders)


@pytest.mark.parametrize("name", ["mine.xlsx", "mine"])
def test_what_is_written_reads_back_and_is_never_written_over(name: str, tmp_path: Path) -> None:
    scenarios.write(base_scenario(), tmp_path / name)
    assert scenarios.read(tmp_path / name) == base_scenario()
    with pytest.raises(ValueError, match=rf"{name} exists already"):
        scenarios.write(_with_quantities(5), tmp_path / name)
    assert scenarios.read(tmp_path / name) == base_scenario()


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"mine\.ods: name a file that ends in \.xlsx"):
        scenarios.write(base_scenario(), tmp_path / "mine.ods")
    assert not list(tmp_path.iterdir())


def test_the_version_is_the_packages() -> None:
    told = subprocess.run(
        [sys.executable, "-m", "scenarios", "--version"], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert told.stdout == f"graftwright {version('graftwright')}\n"


def test_a_checkout_that_is_not_installed_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(name: str) -> str:
        raise PackageNotFoundError(name)

    monkeypatch.setattr("importlib.metadata.version", fail)
    with pytest.raises(SystemExit) as end:
        main(["--version"])
    assert end.value.code == 0
    assert capsys.readouterr().out == "graftwright, not installed\n"
