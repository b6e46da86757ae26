"""The ranges of the tables' numbers, each with its reason.

A number outside its range is a typing error. It would also differ so much in size from the other numbers that
the solver's tolerance would mean nothing for it.
"""

LEAST_SHARE = 0.01
"""Least germination, match, take, survival: nobody sows or grafts for less than one in a hundred."""

PLANTS = 10_000_000
"""Most plants of an order or a delivery: the largest young-plant nurseries raise that many in a week."""

UNITS = 1_000_000_000
"""Most seeds or units of supplies: a hundred for each plant of the largest order."""

USED = 100_000
"""Most units of a supply for one join, tray or plant: a hundred litres of media, counted in millilitres."""

SLOTS = 100_000_000
"""Most slots of a zone: 1,400 hectares of benches, so that a large number may mean "as many as wanted"."""

HEADS = 1_000_000
"""Most hands of a crew, units of a zone or modules: far more than a nursery has, for the same reason."""

PACES = (0.05, 20.0)
"""Slowest and fastest pace: a hand takes twenty times the standard time, or a twentieth of it."""

ATTENDANTS = 100.0
"""Most attendants of a machine: more hands than stand at the longest table."""

TASK = 36_000.0
"""Most seconds of a task: ten hours for one tray or plant."""

UNIT_PRICE = 10_000_000.0
"""Most money for a plant, an hour or a slot-day: a few hundred dollars in the currencies with most zeros."""

AMOUNT = 1_000_000_000_000.0
"""Most money in one sum: a hundred million dollars in rupiah or đồng."""
