"""The garbage collector while a command runs."""

from __future__ import annotations

import gc

from model.collector import YOUNG, collect_seldom, collector_paused


def test_the_collector_looks_seldom_until_the_first_pause_is_over() -> None:
    before = gc.get_threshold()
    try:
        collect_seldom()
        collect_seldom()
        assert gc.get_threshold() == (YOUNG, *before[1:])
        with collector_paused():
            assert not gc.isenabled()
        assert gc.isenabled()
        assert gc.get_threshold() == before
    finally:
        gc.set_threshold(*before)
