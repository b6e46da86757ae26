"""Rules of the nursery's own tasks: a stage that exists, a name of their own, what they are for and use."""

from __future__ import annotations

from collections.abc import Iterator

from model.planned.tables.job_tables import Step
from model.scenario.choices import MethodKind, Task, TaskPer
from model.scenario.own_tasks import HOLDING, SEEDLINGS, STANDING
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, bounded_nearest, folded, suggested

TAKEN = {folded(word.value) for word in (*Task, *Step)}
"""Names of the steps and tasks that every nursery has."""


def _names(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("own_tasks", "task"):
        if folded(row["task"]) in TAKEN:
            remedy = "give it another name; the time of standard tasks stands in table labour_standards"
            yield row.fault("task", "is the name of a standard task", remedy)


def _stages(draft: Draft) -> Iterator[Fault]:
    """Faults of stages that do not exist, or that the row's method or product does not have."""
    if not draft.sure("stages", "method", "stage"):
        return
    names: dict[str, set[str]] = {}
    for row in draft.rows("stages", "method", "stage"):
        names.setdefault(row["method"], set()).add(row["stage"])
    every = set().union(*names.values())
    near = bounded_nearest()
    for row in draft.rows("own_tasks", "stage"):
        stage, method = row["stage"], _method(draft, row)
        if stage in STANDING:
            if stage in every:
                wrong = f"is also the name of a stage in table stages; it stands for {stage} in general"
                yield draft.spoiled(row, "stage", wrong, "give the stage in table stages another name")
        elif stage not in every:
            otherwise = f"write {', '.join(STANDING)}, or a stage of table stages"
            wrong = "is no stage"
            yield draft.spoiled(
                row, "stage", wrong, suggested(near(stage, frozenset({*every, *STANDING})), otherwise)
            )
        elif method is not None and stage not in names.get(method, set()):
            has = ", ".join([*sorted(names.get(method, set())), HOLDING])
            yield draft.spoiled(row, "stage", f"is no stage of method '{method}'", f"write {has}")


def _method(draft: Draft, row: DraftRow) -> str | None:
    """The method that a row is for, by itself or by its product; None for all."""
    if row.values.get("method") is not None:
        return str(row["method"])
    product = draft.by("products", "product", "method").get(row.values.get("product") or "")
    return None if product is None else str(product["method"])


def _kinds(draft: Draft) -> Iterator[Fault]:
    """Seedlings belong to a lot, grafted and own-root plants to a method and product; the two never mix."""
    for row in draft.rows("own_tasks", "stage"):
        before = row["stage"] in SEEDLINGS
        for column in ("method", "product") if before else ("lot",):
            if row.values.get(column) is not None:
                wrong = "does not belong here: seedlings are raised for several products"
                remedy = "clear it, and name a lot if the task is not for all"
                if not before:
                    wrong = f"does not belong here: after graft day plants go by product, not by {column}"
                    remedy = "clear it, and name a method or product if the task is not for all"
                yield draft.spoiled(row, column, wrong, remedy)
    products = draft.by("products", "product", "method")
    for row in draft.rows("own_tasks", "method", "product"):
        product = products.get(row["product"] or "")
        if product is not None and row["method"] not in (None, product["method"]):
            wrong = f"is not the method of product '{row['product']}'"
            yield row.fault("method", wrong, f"write {product['method']}, or clear it")


def _measures(draft: Draft) -> Iterator[Fault]:
    """No seedlings are counted before they have come up, no joins before graft day or of own-root plants."""
    methods = draft.by("methods", "method", "kind")
    for row in draft.rows("own_tasks", "stage", "per"):
        stage, per = row["stage"], row["per"]
        if stage == SEEDLINGS[0] and per is not TaskPer.TRAY:
            yield row.fault("per", "cannot be counted in germination", "write tray")
        elif stage in STANDING and per is TaskPer.JOIN:
            remedy = "write tray or plant" if stage != HOLDING else "write plant or tray"
            yield row.fault("per", f"cannot be counted in {stage}", remedy)
        elif per is TaskPer.JOIN:
            method = methods.get(_method(draft, row) or "")
            if method is not None and method["kind"] is MethodKind.OWN_ROOT:
                yield row.fault("per", "does not belong here: own-root plants are not joined", "write plant")


def _days(draft: Draft) -> Iterator[Fault]:
    """A day of a stage lies within it, for the method for which it is longest."""
    if not draft.sure("stages", "method", "stage", "days"):
        return
    for row in draft.rows("own_tasks", "stage", "day"):
        method = _method(draft, row)
        lengths = [
            stage["days"] or 0
            for table in ("stages", "stage_zones")
            for stage in draft.rows(table, "method", "stage", "days")
            if stage["stage"] == row["stage"] != HOLDING and method in (None, stage["method"])
        ]
        if row["day"] is not None and lengths and row["day"] > max(lengths):
            most = max(lengths)
            remedy = f"write a day from 1 to {most}" if most else "name a stage that has days"
            yield row.fault("day", f"is after the last day of the stage, which has {most}", remedy)


def _needs(draft: Draft) -> Iterator[Fault]:
    """Time needs a skill; a supply needs a quantity, and a quantity a supply."""
    for row in draft.rows("own_tasks", "seconds", "skill"):
        if row["seconds"] > 0 and row["skill"] is None:
            yield row.fault("skill", "is blank although the task takes time", "write a skill, or 0 seconds")
    for row in draft.rows("own_tasks", "supply", "quantity"):
        if row["supply"] is None and row["quantity"] > 0:
            yield row.fault("supply", "is blank although a quantity is used", "name a supply, or write 0")
        if row["supply"] is not None and row["quantity"] == 0:
            yield row.fault(
                "quantity", "is 0 although a supply is named", "write a quantity, or clear supply"
            )


OWN_TASKS = (
    Rule("own tasks have names of their own", _names),
    Rule("own tasks name a stage", _stages),
    Rule("own tasks name lots of seedlings, or methods and products", _kinds),
    Rule("own tasks count what is there", _measures),
    Rule("own tasks are done within their stage", _days),
    Rule("own tasks have a skill and a supply where they need them", _needs),
)
