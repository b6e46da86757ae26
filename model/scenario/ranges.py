"""The ranges of the tables' numbers: what a nursery can mean, each with its reason.

Beyond them a number is a slip of the pen, and so large or small beside the others that the solver's tolerance
says nothing of it any more.
"""

LEAST_SHARE = 0.01
"""Least germination, match, take, survival: what gives less than one in a hundred, nobody sows or grafts."""

PLANTS = 10_000_000
"""Most plants of an order or a delivery: the largest young-plant nurseries raise that many in a week."""

UNITS = 1_000_000_000
"""Most seeds or units of supplies: some hundred for each plant of the largest order."""

USED = 100_000
"""Most units of a supply for one join, tray or plant: a hundred litres of media, counted in millilitres."""

SLOTS = 1_000_000
"""Most slots of a place: 14 hectares of benches."""

HEADS = 10_000
"""Most hands of a crew, units of a zone or modules: more than any one nursery has."""

PACES = (0.05, 20.0)
"""Slowest and fastest pace: a hand takes from a twentieth of the standard time to twenty times as much."""

TASK = 36_000.0
"""Most seconds of a task: ten hours for one tray or plant."""

UNIT_PRICE = 10_000_000.0
"""Most for a plant, an hour, a slot and day: some hundred dollars, in the currencies with the most zeros."""

AMOUNT = 1_000_000_000_000.0
"""Most money in one sum: a hundred million dollars in rupiah or đồng."""
