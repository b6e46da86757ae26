"""The capacity and cost model: a scenario becomes a plan of least cost, and the audit proves the plan.

Call ``plan`` and ``audit``. They take and return ``Scenario``, ``Plan`` and ``Check``. ``plan`` may raise
``SolveError``.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from model.planned.plan_tables import Plan
    from model.proof.audit import Check, audit
    from model.scenario.entities import Scenario
    from model.solve import plan
    from model.solver.compiled import SolveError
else:
    from model.front_doors import front_doors

    __getattr__, __dir__ = front_doors(
        __name__,
        {
            "Check": "model.proof.audit",
            "Plan": "model.planned.plan_tables",
            "Scenario": "model.scenario.entities",
            "SolveError": "model.solver.compiled",
            "audit": "model.proof.audit",
            "plan": "model.solve",
        },
    )

__all__ = ["Check", "Plan", "Scenario", "SolveError", "audit", "plan"]
