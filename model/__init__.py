"""The capacity and cost model: a scenario becomes a plan of least cost."""
