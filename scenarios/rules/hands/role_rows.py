"""Rules of roles: each row of a task in roles names its own, and what else names a role means one of them."""

from __future__ import annotations

from collections.abc import Iterator

from model.scenario.capacity import in_role
from model.scenario.choices import Task
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, folded, meant, shown


def _every_row(draft: Draft) -> Iterator[Fault]:
    """Rows alike in task, method and format all name a role, or there is one row."""
    alike = draft.grouped("labour_standards", "task", "method", "format", "role")
    for rows in alike.values():
        kinds: dict[tuple[str | None, str | None], list[str]] = {}
        for row in rows:
            if row["role"] is not None:
                kinds.setdefault((row["method"], row["format"]), []).append(row["role"])
        for row in rows:
            roles = kinds.get((row["method"], row["format"]))
            if row["role"] is None and roles:
                wrong = f"is blank beside a row with the role '{shown(roles[0])}', alike in the rest"
                yield row.fault("role", wrong, "name the role that takes this time, or remove the row")


def _spellings(draft: Draft) -> Iterator[Fault]:
    """A role of a task is spelt alike in all its rows: two spellings would be two roles."""
    first: dict[tuple[Task, str], DraftRow] = {}
    for row in draft.rows("labour_standards", "task", "role"):
        if row["role"] is not None:
            other = first.setdefault((row["task"], folded(row["role"])), row)
            if other["role"] != row["role"]:
                name = shown(other["role"])
                wrong = f"differs from '{name}' in row {other.number} only by letter case or spaces"
                yield draft.spoiled(row, "role", wrong, "write both alike, or give one of them another name")


def _paid_roles(draft: Draft) -> Iterator[Fault]:
    """A piece rate for a role is for one of the task's."""
    if not draft.sure("labour_standards", "task", "role"):
        return
    for row in draft.rows("piece_rates", "task", "role"):
        task, rows = row["task"], draft.rows("labour_standards", "task", "role")
        roles = sorted({of["role"] for of in rows if of["task"] is task and of["role"] is not None})
        if row["role"] is not None and row["role"] not in roles:
            otherwise = f"write {' or '.join(roles)}, or clear it" if roles else "clear it"
            wrong = f"is no role of the task {task.value} in labour_standards"
            yield draft.spoiled(row, "role", wrong, meant(row["role"], roles, otherwise))


def _own_names(draft: Draft) -> Iterator[Fault]:
    """No task of the nursery's own has the name under which lists show a role."""
    rows = draft.rows("labour_standards", "task", "role")
    taken = {folded(in_role(row["task"].value, row["role"])) for row in rows if row["role"] is not None}
    for row in draft.rows("own_tasks", "task"):
        if folded(row["task"]) in taken:
            yield row.fault("task", "is what lists call a role of labour_standards", "give it another name")


ROLES = (
    Rule("rows of a task in roles all name one", _every_row),
    Rule("a role is spelt in one way", _spellings),
    Rule("roles paid by the piece are in labour_standards", _paid_roles),
    Rule("own tasks are not named as a role", _own_names),
)
