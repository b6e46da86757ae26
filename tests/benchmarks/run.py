"""The benchmark: `python -m tests.benchmarks.run [ORDERS ...]`; not a test. 0 orders stand for the demo.

Each book is written to a folder and planned from it as the command line does, in a process of its own. The
programs that HiGHS was given on the way are then solved once more by HiGHS alone: that is the yardstick.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
import weakref
from importlib import import_module
from pathlib import Path
from typing import Any

SIZES = {100: (20, 200), 400: (60, 365), 2000: (200, 365), 5000: (400, 365)}
"""Products and days of the books, by orders."""

SEED = 1
PHASES = (
    "imports",
    "read",
    "expand",
    "build",
    "compile",
    "solve",
    "whole trays",
    "shadow prices",
    "tables",
    "audit",
    "traced costs",
    "write",
)


def measure(orders: int, whole: bool) -> dict[str, Any]:
    """Seconds by phase of one book, its size, and HiGHS alone on the same programs.

    Imports are a phase too: all that the command loads but the parts of its page and pictures.
    """
    began = time.perf_counter()
    import_module("scenarios.commands.command_line")
    from model.collector import collect_seldom

    collect_seldom()

    from model import solve
    from model.proof.audit import audit
    from model.questions.traced_costs import traced_parts
    from model.solver import whole as whole_trays
    from reports.plan.csv_tables import write_plan_tables
    from reports.sheets.workbook import write_plan_workbook
    from scenarios.commands.arguments import PROFIT_MARGIN
    from scenarios.files.read_scenario import read_scenario
    from scenarios.rules.remarks import remarks

    seconds = {"imports": time.perf_counter() - began}

    import highspy

    from scenarios.files.write_scenario import write_folder
    from tests.benchmarks.books import book

    programs: list[tuple[tuple[Any, ...], dict[str, Any], list[Any]]] = []
    original = solve.solver

    def recording(*arguments: Any, **options: Any) -> Any:
        highs = original(*arguments, **options)
        own, changes = weakref.ref(highs), list[Any]()

        def changing(*bounds: Any) -> Any:
            changes.append(bounds)
            return type(own()).changeColsBounds(own(), *bounds)

        highs.changeColsBounds = changing
        programs.append((arguments, options, changes))
        return highs

    solve.solver = whole_trays.solver = recording
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_folder(book(orders, *SIZES[orders], seed=SEED), folder / "book")
        start = time.perf_counter()
        scenario = read_scenario(folder / "book")
        seconds["read"] = time.perf_counter() - start
        solved = solve.solve(scenario, whole=whole)
        plan = solve.plan_of(solved)
        seconds |= plan.facts.seconds
        since = time.perf_counter()
        checks = audit(scenario, plan)
        seconds["audit"] = time.perf_counter() - since
        since = time.perf_counter()
        traced = traced_parts(solved)
        seconds["traced costs"] = time.perf_counter() - since
        since = time.perf_counter()
        (folder / "plan").mkdir()
        write_plan_workbook(
            scenario,
            plan,
            traced,
            checks,
            remarks(scenario),
            folder / "plan" / "plan.xlsx",
            profit_margin=PROFIT_MARGIN,
        )
        write_plan_tables(plan, folder / "plan" / "tables")
        seconds["write"] = time.perf_counter() - since
        total = time.perf_counter() - start + seconds["imports"]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    alone = []
    for arguments, options, changes in programs:
        lp = original(*arguments, **options).getLp()
        highs = highspy.Highs()
        for option, value in {"output_flag": False, "threads": 1, "random_seed": 0, **options}.items():
            highs.setOptionValue(option, value)
        since = time.perf_counter()
        highs.passModel(lp)
        highs.run()
        for bounds in changes:
            highs.changeColsBounds(*bounds)
            highs.run()
        alone.append(time.perf_counter() - since)
    return {
        "orders": orders,
        "whole": whole,
        "seconds": seconds,
        "total": total,
        "highs": sum(alone),
        "ratio": total / sum(alone),
        "peak_mb": peak,
        "columns": plan.facts.columns,
        "rows": plan.facts.rows,
        "nonzeros": plan.facts.nonzeros,
        "gap": plan.facts.gap,
        "short": plan.short,
        "bought": float(plan.orders["bought"].sum()),
        "failed": [check.name for check in checks if not check.passed],
    }


COMMAND = (
    "import sys; from scenarios.commands.command_line import main; "
    "main(['plan', 'hollow_ash', '-o', sys.argv[1]]); "
    "print(*('import ' + name for name in sys.modules if name.split('.')[-1].isidentifier()), sep='\\n')"
)
"""The demo's plan, and what it has imported, in the order in which it was."""


def demo(runs: int = 5) -> str:
    """Least seconds of processor time of the demo's plan command, and of its imports alone."""

    def least(code: str) -> tuple[float, str]:
        took, said = [], ""
        for _ in range(runs):
            with tempfile.TemporaryDirectory() as name:
                before = resource.getrusage(resource.RUSAGE_CHILDREN)
                said = subprocess.run(
                    [sys.executable, "-", str(Path(name) / "plan")],
                    input=code,
                    check=True,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    text=True,
                ).stdout
                after = resource.getrusage(resource.RUSAGE_CHILDREN)
                took.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        return min(took), said

    command, said = least(COMMAND)
    lines = [line for line in said.splitlines() if line.startswith("import ")]
    suppressed = "".join(f"with suppress(ImportError):\n    {line}\n" for line in lines)
    imports, _ = least(f"from contextlib import suppress\n{suppressed}")
    return (
        f"demo: plan command {command:.2f} s of processor time, its imports {imports:.2f} s, "
        f"{imports / command:.0%} of it"
    )


def table(results: list[dict[str, Any]]) -> str:
    """The results as a table, a column a run."""
    rows: list[tuple[str, list[str]]] = [
        ("orders", [f"{r['orders']:,}" for r in results]),
        ("trays", ["whole" if r["whole"] else "continuous" for r in results]),
        *((name, [f"{r[name]:,}" for r in results]) for name in ("columns", "rows", "nonzeros")),
        *((f"{phase}, s", [f"{r['seconds'].get(phase, 0):.2f}" for r in results]) for phase in PHASES),
        ("other, s", [f"{r['total'] - sum(r['seconds'].values()):.2f}" for r in results]),
        ("whole command, s", [f"{r['total']:.2f}" for r in results]),
        ("HiGHS alone, s", [f"{r['highs']:.2f}" for r in results]),
        ("ratio", [f"{r['ratio']:.2f}" for r in results]),
        ("peak memory, MB", [f"{r['peak_mb']:.0f}" for r in results]),
        ("gap to the bound", [f"{r['gap']:.2%}" for r in results]),
        ("plants short", [f"{r['short']:,.0f}" for r in results]),
        ("plants bought in", [f"{r['bought']:,.0f}" for r in results]),
    ]
    heading, *body = (f"| {name} | {' | '.join(cells)} |" for name, cells in rows)
    return "\n".join([heading, "|---" * (len(results) + 1) + "|", *body])


def main(arguments: list[str]) -> int:
    """Run the sizes asked for, or all."""
    if arguments[:1] == ["--one"]:
        print(json.dumps(measure(int(arguments[1]), arguments[2] == "whole")))
        return 0
    results = []
    for orders in [int(argument) for argument in arguments] or [0, *SIZES]:
        if not orders:
            print(demo() + "\n")
            continue
        for trays in ("whole", "parts"):
            print(f"{orders} orders, trays {trays} ...", file=sys.stderr)
            one = [sys.executable, "-m", "tests.benchmarks.run", "--one", str(orders), trays]
            done = subprocess.run(one, check=True, stdout=subprocess.PIPE, text=True)
            results.append(json.loads(done.stdout.splitlines()[-1]))
    if results:
        print(table(results))
    failed = [result for result in results if result["failed"]]
    for result in failed:
        print(f"audit failed on {result['orders']} orders: {', '.join(result['failed'])}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
