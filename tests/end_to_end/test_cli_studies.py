"""The studies' verbs as a user meets them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import dask
import openpyxl
import pytest

from model.scenario.choices import Decline
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer, Inquiry, Module
from scenarios.cells.faults import shown
from scenarios.commands.command_line import BAD_INPUT, DONE, FAILED, main
from scenarios.commands.study_verbs import STUDIES
from scenarios.files.write_scenario import write_folder
from scenarios.variants.by_name import read
from tests.places import visible
from tests.strategies import base_scenario

VARIANT = """name = "a dearer penalty"
parent = "small"

[[change]]
table = "nursery"
row = "*"
column = "shortfall_penalty"
value = 60
"""


def small() -> Scenario:
    """The base with a module, an offer, an inquiry and an order that may be declined: all studies need."""
    base = base_scenario()
    order = base.orders[0]
    return replace(
        base,
        orders=(
            order,
            replace(order, order="O-2", quantity=40, price=3.0, decline=Decline.PART, cancel_chance=0.1),
        ),
        inquiries=(Inquiry("I-1", "Corner shop", order.product, 25, order.due_day, 3.0, 0.8),),
        modules=(Module("rack", "Chamber", 6.0, 0, 500.0, 0.0, 10),),
        buy_in_offers=(BuyInOffer("offer", order.product, 1.3, 3, ("Mon", "Tue"), None, None, 0, None),),
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_folder(small(), tmp_path / "small")
    (tmp_path / "dear.toml").write_text(VARIANT, encoding="utf-8")
    (tmp_path / "counts.csv").write_text(COUNTS, encoding="utf-8")
    return tmp_path / "small"


EXTRA: dict[str, list[str]] = {
    "quote": ["--product", "Red on Stout", "--quantity", "30", "--due", "2027-03-17", "--price", "2"],
    "break-even": ["--of", "buy-in-price"],
    "compare": ["dear.toml"],
    "rates": ["counts.csv"],
    "heat": [
        *("--zone", "House", "--area", "400", "--u-value", "3.97", "--set-point", "18"),
        *("--outdoor=-3,-1,4,9,14,18,20,19,15,9,4,-1", "--fuel-price", "1.1", "--fuel-heat", "10"),
    ],
    "payback": [
        *("--grafted-price", "0.75", "--own-root-price", "0.175", "--plants", "2087"),
        *("--own-root-yield", "40", "--fruit-price", "392.8"),
    ],
}

COUNTS = """day,counted,lot,method,tried,succeeded
2026-03-02,germination,Red A,,200,150
2026-03-20,take,,splice,100,70
2026-03-27,take,,splice,100,66
"""

BESIDE = {
    "hold": ["held.toml"],
    "quote": ["offers.xlsx"],
    "rates": ["counted_rates.toml"],
    "heat": ["heated_bays.toml"],
}
"""Files that a study writes beside its workbook."""


@pytest.mark.parametrize("verb", STUDIES)
def test_a_study_writes_its_workbook_and_says_its_answer(
    verb: str,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    extra = list(EXTRA.get(verb, []))
    if "--product" in extra:
        extra[1] = small().orders[0].product
    assert main([verb, str(folder), *extra, "-o", str(tmp_path / "out")]) == DONE
    names = set(visible(tmp_path / "out"))
    assert names - {f"{verb}_pictures"} == {*BESIDE.get(verb, []), f"{verb}.html", f"{verb}.xlsx"}
    told = capsys.readouterr()
    assert len(told.out.splitlines()) > 2
    assert "\x1b" not in told.out + told.err
    assert "read ..." in told.err
    book = openpyxl.load_workbook(tmp_path / "out" / f"{verb}.xlsx", data_only=True)
    listed = [
        row[0].value for row in book["Contents"].iter_rows(max_col=1) if row[0].value in book.sheetnames
    ]
    assert listed.count("Answer") == 1
    assert {*listed} >= {*book.sheetnames} - {"Contents"}


def test_a_variant_is_a_scenario_for_every_verb(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    variant = tmp_path / "dear.toml"
    assert main(["check", str(variant)]) == DONE
    assert main(["costs", str(variant), "-o", str(tmp_path / "out")]) == DONE
    assert main(["plan", str(variant), "-o", str(tmp_path / "plan")]) == DONE
    assert "no faults" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["quote"], "--product, --quantity, --due is missing"),
        (["quote", "--product", "Red on Stuot", "--quantity", "-3", "--due", "soon"], "3 faults"),
        (["quote", "--orders", "nowhere.csv", "--due", "2027-03-17"], "not both"),
        (["quote", "--orders", "nowhere.csv"], "nowhere.csv"),
        (["chamber", "--module", "rak"], "did you mean 'rack'?"),
        (["break-even", "--of", "wage", "--low", "3", "--high", "2"], "the lower first"),
        (["rates", "nowhere.csv"], "nowhere.csv is not a file"),
        (["rates", "dear.toml"], "counts, row 1"),
        (["compare"], "name the variants"),
        (["compare", "nothing.toml"], "nothing.toml"),
    ],
)
def test_a_wish_that_cannot_be_met_is_told_and_nothing_written(
    arguments: list[str],
    said: str,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    verb, *rest = arguments
    rest = [small().orders[0].product if part == "Red on Stout" else part for part in rest]
    assert main([verb, str(folder), *rest, "-o", str(tmp_path / "out")]) == BAD_INPUT
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "option",
    [
        ["--profit-margin", "1"],
        ["--profit-margin", "a lot"],
        ["--profit-margin", "nan"],
        ["--workers", "0"],
        ["--workers", "two"],
        ["--workers", "1.5"],
    ],
)
def test_options_out_of_range_end_with_2(
    option: list[str], folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["costs", str(folder), *option, "-o", str(tmp_path / "out")])
    assert ended.value.code == BAD_INPUT
    name, text = option
    told = {"--profit-margin": "a share from 0 to below 1", "--workers": "a whole number from 1 to 1,000"}
    assert f"argument {name}: {shown(text)} is not {told[name]}" in capsys.readouterr().err


def test_several_candidates_come_from_a_file(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    product = small().orders[0].product
    text = (
        f"order,customer,product,quantity,due_day\nA,x,{product},20,2027-03-17\nB,y,{product},30,2027-03-16\n"
    )
    asked = tmp_path / "asked.csv"
    asked.write_text(text, encoding="utf-8")
    assert main(["quote", str(folder), "--orders", str(asked), "-o", str(tmp_path / "out")]) == DONE
    said = capsys.readouterr().out
    assert "A: 20 of" in said
    assert "B: 30 of" in said
    asked.write_text(text.replace("A,x", "O-1,x").replace("30", "many"), encoding="utf-8")
    assert main(["quote", str(folder), "--orders", str(asked), "-o", str(tmp_path / "new")]) == BAD_INPUT
    faults = capsys.readouterr().err
    assert "is in the order book already" in faults
    assert "orders, row 3, quantity" in faults


def test_a_candidate_nothing_can_reach_is_a_fault_that_names_the_first_day(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    product = small().orders[0].product
    asked = ["--product", product, "--quantity", "30", "--due", "2027-03-03"]
    assert main(["quote", str(folder), *asked, "-o", str(tmp_path / "out")]) == BAD_INPUT
    assert "comes before any" in capsys.readouterr().err


@pytest.mark.parametrize("parent", ["small", "dear.toml"])
def test_rates_counted_are_a_variant_of_what_was_named(parent: str, folder: Path, tmp_path: Path) -> None:
    """Seen from the folder it is written into, wherever both are moved together."""
    before, after = tmp_path / "before", tmp_path / "after"
    before.mkdir()
    for name in ("small", "dear.toml", "counts.csv"):
        (tmp_path / name).rename(before / name)
    asked = [str(before / parent), str(before / "counts.csv"), "-o", str(before / "out" / "rates")]
    assert main(["rates", *asked]) == DONE
    before.rename(after)
    variant = after / "out" / "rates" / "counted_rates.toml"
    made = read(str(variant))
    assert made.methods[0].take == 0.68
    assert made.seed_lots[0].germination == pytest.approx(0.75, abs=0.02)
    assert made.nursery.shortfall_penalty == (60 if parent == "dear.toml" else 50)
    assert main(["plan", str(variant), "-o", str(after / "plan")]) == DONE


def test_tuned_margins_are_a_variant_that_plans(tmp_path: Path) -> None:
    write_folder(base_scenario(), tmp_path / "plain")
    asked = [str(tmp_path / "plain"), "--seasons", "1000", "-o", str(tmp_path / "out")]
    assert main(["margins", *asked]) == DONE
    made = read(str(tmp_path / "out" / "tuned_margins.toml"))
    assert all(order.graft_margin is not None for order in made.orders)
    assert all(lot.sowing_margin is not None for lot in made.seed_lots)
    assert main(["plan", str(tmp_path / "out" / "tuned_margins.toml"), "-o", str(tmp_path / "plan")]) == DONE


def test_a_parent_that_a_variant_cannot_name_is_refused(folder: Path, tmp_path: Path) -> None:
    deep = tmp_path.joinpath(*["a" * 100] * 2, "small")
    deep.parent.mkdir(parents=True)
    folder.rename(deep)
    asked = [str(deep), str(tmp_path / "counts.csv"), "-o", str(tmp_path / "out")]
    assert main(["rates", *asked]) == BAD_INPUT
    assert not (tmp_path / "out").exists()


def test_a_log_with_faults_writes_nothing(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "counts.csv"
    log.write_text(COUNTS.replace("150", "250").replace("splice,100,66", "tongue,100,66"), encoding="utf-8")
    assert main(["rates", str(folder), str(log), "-o", str(tmp_path / "out")]) == BAD_INPUT
    told = capsys.readouterr().err
    assert "counts, row 2, succeeded: '250' is more than the 200 tried" in told
    assert "counts, row 4, method: 'tongue'" in told
    assert "2 faults" in told
    assert not (tmp_path / "out").exists()


def test_no_cluster_there_fails_without_writing(folder: Path, tmp_path: Path) -> None:
    asked = ["--cluster", "tcp://127.0.0.1:1", "-o", str(tmp_path / "out")]
    with dask.config.set({"distributed.comm.timeouts.connect": "1s"}):
        assert main(["costs", str(folder), *asked]) == FAILED
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("verb", ["plan", "costs", "compare"])
def test_what_a_variant_changes_is_stored_with_the_result(verb: str, folder: Path, tmp_path: Path) -> None:
    variant = str(tmp_path / "dear.toml")
    cases = [str(folder), variant] if verb == "compare" else [variant]
    assert main([verb, *cases, "-o", str(tmp_path / "out")]) == DONE
    sheet = openpyxl.load_workbook(tmp_path / "out" / f"{verb}.xlsx")["Changes"]
    cells = {cell.value for row in sheet.iter_rows() for cell in row}
    assert {"nursery", "shortfall_penalty", 50, 60, "dear.toml"} <= cells
    assert main([verb, *([str(folder)] * len(cases)), "-o", str(tmp_path / "plain")]) == DONE
    plain = openpyxl.load_workbook(tmp_path / "plain" / f"{verb}.xlsx")
    assert ("Changes" in plain.sheetnames) == (verb == "compare")
