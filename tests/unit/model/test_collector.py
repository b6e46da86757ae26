"""The garbage collector while a command runs."""

from __future__ import annotations

import gc

from model.collector import YOUNG, collect_seldom, collector_paused


def test_the_collector_looks_seldom_and_goes_on_after_a_pause() -> None:
    before = gc.get_threshold()
    try:
        collect_seldom()
        assert gc.get_threshold() == (YOUNG, *before[1:])
        with collector_paused():
            assert not gc.isenabled()
        assert gc.isenabled()
    finally:
        gc.set_threshold(*before)
