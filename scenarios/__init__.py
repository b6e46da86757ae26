"""Inputs, studies and the command line.

``read`` and ``write`` are the ways in and out for a scenario; ``BadInput`` is what ``read`` raises, with
every fault.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scenarios.cells.faults import BadInput
    from scenarios.files.write_scenario import write
    from scenarios.variants.by_name import read
else:
    from model.front_doors import front_doors

    __getattr__, __dir__ = front_doors(
        __name__,
        {
            "BadInput": "scenarios.cells.faults",
            "read": "scenarios.variants.by_name",
            "write": "scenarios.files.write_scenario",
        },
    )

__all__ = ["BadInput", "read", "write"]
