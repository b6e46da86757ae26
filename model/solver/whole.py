"""Whole trays, packs, hands and plants bought: a dive from the continuous optimum, then a search."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import partial
from math import inf
from typing import Any, NamedTuple

import numpy as np

from model.phases import Say, part_of, silent
from model.program.apart_sets import DECIDED as APART_DECIDED
from model.program.program import Program
from model.program.variables import WHOLE
from model.solver.book_parts import (
    SEARCHED,
    SMALL_BOOK,
    TRIED,
    Promised,
    book_parts,
    least_promise,
    small_parts,
)
from model.solver.caps import at_most, capped
from model.solver.compiled import (
    EXACT,
    PART,
    Compiled,
    Effort,
    Solution,
    SolveError,
    proved_bound,
    run,
    solver,
    with_fixed,
    within,
)
from model.solver.declining import LEAST_GAIN, better_declined
from model.solver.dive import HOLDING, Columns, Dive, held_whole, in_parts
from model.solver.filling import FILLED, SHORT, Filling, Plans, fill, filled
from model.solver.group_rows import GroupRows
from model.solver.near_basis import Near, unmoved
from model.solver.packs import fewest_bays, whole_packs
from model.solver.rounded_rows import RoundedRows
from model.solver.strong import Strong
from model.solver.tidied import freed_soonest, in_fewest_bays, repacked, without_needless
from model.solver.wave_rows import BatchRows, WaveRows

IN_USE = EXACT | {"mip_max_nodes": 50}
"""How far it goes in a book in which only the waves in use may be sown."""

APART = EXACT | {"mip_max_nodes": 100, "mip_rel_gap": 0.002}
"""How far it goes in deciding where groups kept apart may be."""

APART_LARGE = APART | {"mip_max_nodes": 30}
"""The same in books of more than ``SEARCHED`` waves."""

LUMPS = ("bays_open", "vehicles")
"""Variables decided together before the dive: few, each of which costs much and serves many orders."""

LUMPS_DECIDED = EXACT | {"mip_max_nodes": 100, "mip_rel_gap": 0.0005}
"""How far it goes in deciding them."""

LUMPS_MOST = 1_000
"""Most waves of a book in which they are decided so: a node of the search takes long in larger ones."""

TRAYS = ("whole_loaded", "finishing")
"""Whole trays from the graft day on: they share the room of a chamber or a house."""

TRAYS_DECIDED = EXACT | {"mip_max_nodes": 20, "mip_rel_gap": 0.005}
"""How far it goes in finding room for them."""

FEW_COLUMNS = 200
"""With no more columns than this to make whole, a dive starts afresh: HiGHS then finds simpler plans."""

A_SEARCH, PART_SEARCH, MAIN_SEARCH, LAST_SEARCH = 0.25, 0.5, 0.8, 0.1
"""Shares of the effort left that a search may take: before others; of a part; of a small book; of a book
whose parts have been searched."""

DIVE = (
    APART_DECIDED,
    (
        "temporary_hands",
        "units_opened",
        "bays_open",
        "offer_taken",
        "wave_opened",
        "batch_set_up",
        "declined_whole",
        "vehicles",
    ),
    ("whole_loaded", "finishing"),
    ("sown_into",),
    ("sown",),
    ("riding",),
    ("bought", "short", "declined"),
    ("called_hands",),
)
"""Variables that the dive makes whole, in this order; new hands follow from hands."""

FROM_NEAR = tuple(name for names in DIVE for name in names if name not in ("bought", "short", "declined"))
"""Variables that keep the numbers of a near plan."""

FILLINGS, FEW_FILLINGS = 10, 4
"""Plans with orders filled tried at most, in books of at most ``SEARCHED`` waves and in larger ones."""

CLOSE = 0.0025
"""Gap to the bound, as a share of it, above which more is tried than one dive."""

FAR = 0.01
"""The same for books of more than ``SEARCHED`` waves, in which a dive takes long. A book of fewer is searched
as a whole above this gap."""

IN_PARTS_MOST, IN_PARTS = 1_000, 0.005
"""Most waves of a book whose parts are searched apart, and the gap above which they are in books of more than
``SEARCHED`` waves."""

NEAR_ENOUGH = 1.1
"""A plan made from a near one will do where its gap is no more than so many times that one's."""

MOSTLY = 0.5
"""A plan is made from a near one where so large a share of the numbers in parts is as it was there."""

SHARES = (0.35, 0.5)
"""Shares of the numbers in parts that a round of a dive raises, in the order in which they are tried."""


def _groups(program: Program, compiled: Compiled) -> list[Columns]:
    """Columns of the groups in the order in which the dive makes them whole.

    Of the trays sown, those first whose plants no offer can replace: the last to be rounded find the
    least room, and should be those that a delivery can stand in for.
    """
    network = program.network
    offered = {buy_in.order for buy_in in network.buy_ins}
    irreplaceable = {delivery.flow for delivery in network.deliveries if delivery.order not in offered}
    alone = [any(network.joins[j].flow in irreplaceable for j in draws) for draws in network.draws]
    trays = compiled.position["sown"]
    groups = []
    for names in DIVE:
        if names == ("sown",):
            split = (trays[np.array(alone, dtype=bool)], trays[~np.array(alone, dtype=bool)])
            groups += [columns[columns >= 0] for columns in split]
        else:
            groups.append(compiled.columns(names))
    return groups


def _pay_for_sown(compiled: Compiled, solution: Solution) -> Solution:
    """The solution with the fixed cost of those waves only that have trays."""
    opened, trays = compiled.position["wave_opened"], compiled.position["sown"]
    if not len(opened):
        return solution
    columns, stated = solution.columns.copy(), opened >= 0
    columns[opened[stated]] = columns[trays[stated]] > 0.5
    return replace(solution, columns=columns)


def _packed(dive: Dive) -> Solution:
    """The dive's solution in whole packs, solved once more with all that is whole held."""
    compiled = dive.compiled
    used = _pay_for_sown(compiled, dive.found).columns
    packed = whole_packs(compiled, fewest_bays(compiled, used))
    columns = compiled.columns(HOLDING)
    values = np.round(packed[columns])
    if not dive.bound(columns, values, values):
        raise SolveError("Infeasible")
    return dive.found


def _dived(
    compiled: Compiled,
    start: Solution | None,
    shorts: Columns,
    groups: list[Columns],
    share: float,
    told: Say,
    dearest: float = inf,
) -> Solution:
    """A whole solution by a dive in which the orders of ``shorts`` stay filled as long as that can be."""
    dive = Dive(compiled, start, shorts, dearest)
    dive.choose(compiled.columns(("bays_open",)))
    for columns in groups:
        dive.make_whole(columns, share, told)
    return _packed(dive)


def dived(
    program: Program,
    compiled: Compiled,
    near: Solution | None,
    dearest: float = inf,
    share: float = SHARES[0],
) -> Solution:
    """A whole solution by one dive, of a program whose bounds leave little to decide.

    ``near``: an optimum of the program with other bounds, from whose basis HiGHS starts; None where so much
    is held that presolve is quicker. A round raises a ``share`` of the numbers in parts.
    Raises SolveError where no solution cheaper than ``dearest``, in currency, is found.
    """
    start = run(solver(compiled, objective_bound=dearest), start=near)
    shorts = filled(compiled, start)
    return _dived(compiled, start, shorts, _groups(program, compiled), share, silent, dearest)


def _from_near(
    program: Program,
    opened: tuple[Compiled, Solution],
    near: Near,
    groups: list[Columns],
) -> Solution | None:
    """A whole solution by a dive in which all that the continuous optimum has as a near one keeps its number.

    That is the number in the near one's plan; bought, short and declined follow. So the two plans differ by
    little else than by what their orders ask. None where most of what is in parts has moved, or where the
    dive ends without a solution.
    """
    compiled, optimum = opened
    held, values = unmoved(program, compiled, optimum, near, FROM_NEAR)
    open_ = in_parts(optimum.columns[np.concatenate(groups)])
    if len(in_parts(optimum.columns[held])) < MOSTLY * len(open_):
        return None
    with suppress(SolveError):
        dive = Dive(compiled, optimum, filled(compiled, optimum))
        if dive.bound_afresh(held, values):
            for columns in groups:
                dive.make_whole(columns, SHARES[0], silent)
            return _packed(dive)
    return None


def _best_dive(
    compiled: Compiled,
    continuous: Solution,
    enough: float,
    groups: list[Columns],
    progress: Say,
    best: Solution | None,
) -> Solution:
    """The cheapest of ``best`` and the dives tried until one costs no more than ``enough``.

    Two keep orders filled, one need not.
    """
    fillable = filled(compiled, continuous)
    start = continuous if sum(map(len, groups)) > FEW_COLUMNS else None
    tries = [*((fillable, share) for share in SHARES), (fillable[:0], SHARES[0])]
    for n, (shorts, share) in enumerate(tries, 1):
        told = part_of(f"whole trays, try {n} of at most {len(tries)}", progress)
        found = _dived(compiled, start, shorts, groups, share, told)
        best = found if best is None else min(best, found, key=lambda solution: solution.objective)
        if best.objective <= enough:
            return best
    assert best is not None
    return best


def _better_from_parts(
    compiled: Compiled,
    continuous: Solution,
    strong: Strong,
    known: Solution,
    groups: list[Columns],
    effort: Effort,
    told: Say,
) -> tuple[Solution, float]:
    """The better of ``known`` and of a solution whose small parts are searched apart, and the bound's gain.

    ``known``: a whole solution; parts that cost more than in it are not searched for. ``strong``: where a
    group kept apart may be is free in it or held, and the gain by the searches is that of its own bound.

    The smallest parts come first. They are held one after the other as their searches found them, or as they
    are where there is nothing to gain. One that does not fit with those before it, or is then dearer than in
    ``known``, is left to the dive, as are one whose search finds nothing and what is in no small part.
    Nothing is searched where the parts promise little of the gap to the bound, and the searches end where
    they do not keep what the parts promised.
    """
    whole, kept = np.zeros((2, len(compiled.cost)), dtype=bool)
    whole[compiled.columns(WHOLE)] = True
    kept[compiled.columns(HOLDING)] = True
    parts = small_parts(book_parts(strong.compiled, strong.optimum, SMALL_BOOK), compiled, known, SMALL_BOOK)
    promised, gain = Promised(sum(each.promise for each in parts)), 0.0
    if promised.total < TRIED * (known.objective - strong.optimum.objective):
        return known, 0.0
    nothing = np.empty(0, dtype=np.intp)
    try:
        together = Dive(strong.compiled, strong.optimum, nothing)
        for n, (part, waves, least, promise) in enumerate(parts, 1):
            if promised.broken():
                return known, gain
            told(f"part {n} of {len(parts)}")
            best, proved = known.columns[part.columns], 0.0
            if promise > least_promise(known):
                wanted = np.flatnonzero(whole[part.columns])
                try:
                    few, _ = capped(part.compiled, wanted, least + promise)
                    found = effort.search(solver(few, wanted, **_part_limits(waves)), PART_SEARCH)
                except SolveError:
                    continue
                best, proved = found.columns, max(0.0, found.bound - least)
            here = np.flatnonzero(kept[part.columns])
            saved = together.hold_within(part.columns[here], np.round(best[here]), promise + LEAST_GAIN)
            gain += proved
            promised.count(promise, proved + saved)
        dive = Dive(compiled, continuous, nothing)
        held = np.flatnonzero(kept & (together.lower == together.upper))
        if not dive.bound(held, together.lower[held], together.lower[held]):
            return known, gain
        for columns in groups:
            dive.make_whole(columns, SHARES[0], told)
        return min(known, _packed(dive), key=lambda solution: solution.objective), gain
    except SolveError:
        return known, gain


def _part_limits(waves: int) -> dict[str, Any]:
    """How far HiGHS goes in a part: the fewer its waves, the more nodes, since each takes less time."""
    nodes = int(PART["mip_max_nodes"] * (SMALL_BOOK / waves) ** 2)
    return EXACT | {"mip_max_nodes": min(nodes, EXACT["mip_max_nodes"])}


def searched(compiled: Compiled, known: float, effort: Effort, share: float = MAIN_SEARCH) -> Solution:
    """The best whole solution that HiGHS finds, with its bound; ``known``: the cost of a whole plan.

    The presolve of HiGHS 1.16 may lose the best solution, so that the bound is too high. This shows where
    the known plan is cheaper than the bound: then the search is made without presolve.
    """
    columns = compiled.columns(WHOLE)
    found = effort.search(solver(compiled, columns, **EXACT), share)
    if within(found.bound, known):
        return found
    return effort.search(solver(compiled, columns, presolve="off", **EXACT), share)


class Whole(NamedTuple):
    """A solution in whole numbers, and a proved lower bound of any, in currency.

    ``fillings``: for each order that it leaves short and the continuous program fills, what is known of
    plans that fill it.
    """

    solution: Solution
    bound: float
    fillings: dict[str, Filling]


def make_whole(
    program: Program,
    compiled: Compiled,
    continuous: Solution,
    progress: Say = silent,
    near: Near | None = None,
) -> Whole:
    """A solution with whole trays, packs, hands and plants bought, and a proved lower bound of any.

    A dive makes hands, units, deliveries and fixed costs whole, then trays, then plants bought and short;
    packs come last. An order that the continuous program fills stays filled where that can be. In a small
    book a mixed-integer program improves on this, and often proves its optimum; where a larger book is not
    close to its bound, its parts are searched so. ``near``: a plan of almost the same orders; in a book too
    large for such searches the dive starts from it. Raises SolveError where HiGHS reaches no optimum or the
    solution is cheaper than its bound.
    """
    progress("whole trays, bound")
    waves, effort = len(program.network.waves), Effort(compiled)
    strong = Strong(compiled, continuous)
    strong.add(WaveRows(program, compiled))
    strong.add(BatchRows(program, compiled))
    tried, least = strong, -inf
    if len(compiled.columns(APART_DECIDED)):
        progress("whole trays, groups kept apart")
        strong.add(GroupRows(program, compiled))
        groups_apart = compiled.columns(APART_DECIDED)
        limits = APART if waves <= SEARCHED else APART_LARGE
        tried, least = _decided(strong, groups_apart, limits, effort)
    opened = tried.compiled, tried.optimum
    strong.add(RoundedRows(program, compiled))
    if tried is not strong:
        tried.add(RoundedRows(program, compiled))
    lumps = compiled.columns(LUMPS)
    if len(lumps) and SMALL_BOOK < waves <= LUMPS_MOST:
        progress("whole trays, bays and vehicles")
        held, known = _decided(tried, lumps, LUMPS_DECIDED, effort)
        if tried is strong:
            least = known
        if held is not tried:
            fixed = with_fixed(opened[0], lumps, held.compiled.lower[lumps])
            opened, tried = (fixed, run(solver(fixed), start=opened[1])), held
    bound, aim = strong.optimum.objective, tried.optimum.objective
    groups = _groups(program, compiled)
    close, apart = (CLOSE, CLOSE) if waves <= SEARCHED else (FAR, IN_PARTS)
    started, enough = None, aim
    if near is not None and waves > SEARCHED:
        progress("whole trays, from a plan close by")
        started, enough = _from_near(program, opened, near, groups), aim + NEAR_ENOUGH * near.gap
    if started is not None and started.objective <= enough:
        best = started
    else:
        best = _best_dive(*opened, aim + close * abs(aim), groups, progress, started)
    if SEARCHED < waves <= LUMPS_MOST:
        told = part_of("whole trays, room for them", progress)
        fillable = filled(compiled, continuous)
        best = _with_room(compiled, tried, opened, fillable, best, groups, effort, told)
    if waves <= SMALL_BOOK:
        progress("whole trays, search for a cheaper plan")
        best, bound = _searched_from(compiled, strong, best, effort)
    elif waves <= IN_PARTS_MOST and best.objective > max(enough, aim + apart * abs(aim)):
        if waves <= SEARCHED:
            progress("whole trays, search among the waves in use")
            best = _searched_in_use(compiled, tried, opened[1], best, effort)
        told = part_of("whole trays, search", progress)
        best, gain = _better_from_parts(*opened, tried, best, groups, effort, told)
        if tried is not strong:
            gain = 0.0
            if best.objective > aim + CLOSE * abs(aim):
                best, gain = _better_from_parts(compiled, continuous, strong, best, groups, effort, told)
        if within(bound + gain, best.objective):
            bound += gain
        if waves <= SEARCHED and best.objective > bound + FAR * abs(bound):
            progress("whole trays, search for a cheaper plan")
            best, known = _searched_from(compiled, strong, best, effort, LAST_SEARCH)
            bound = max(bound, known) if within(known, best.objective) else bound
    settle = partial(_filled, program, strong, effort, progress)
    best, fillings = settle(Plans(compiled, continuous, best, bound))
    if best.objective > max(bound, least) + LEAST_GAIN:
        told = part_of("whole trays, orders to decline", progress)
        better = better_declined(program, compiled, best, partial(dived, program), told)
        if better is not best:
            best, fillings = settle(Plans(compiled, continuous, better, bound))
    found_in = compiled
    if len(best.row_dual) == len(opened[0].row_lower):
        found_in = replace(opened[0], lower=compiled.lower, upper=compiled.upper)
    best = repacked(found_in, without_needless(program, found_in, best))
    best = in_fewest_bays(compiled, freed_soonest(program, compiled, best))
    bound = max(bound, least) if within(least, best.objective) else bound
    return Whole(best, proved_bound(bound, best.objective), fillings)


def _decided(
    strong: Strong, columns: Columns, limits: dict[str, Any], effort: Effort
) -> tuple[Strong, float]:
    """The program with these columns held where they cost least while all else is in parts, and a bound.

    Rounded one after the other, they would be put anywhere: the continuous program has half of each group
    kept apart everywhere, and a part of a bay in every week. Where HiGHS finds no solution, the dive decides.
    """
    try:
        found = effort.search(solver(strong.compiled, columns, **limits), A_SEARCH)
        held = with_fixed(strong.compiled, columns, np.round(found.columns[columns]))
        return Strong(held, run(solver(held), start=strong.optimum)), found.bound
    except SolveError:
        return strong, strong.optimum.objective


def _with_room(
    compiled: Compiled,
    strong: Strong,
    opened: tuple[Compiled, Solution],
    fillable: Columns,
    best: Solution,
    groups: list[Columns],
    effort: Effort,
    told: Say,
) -> Solution:
    """The better of a whole solution and of a dive that has room for whole trays from the graft day on.

    Raised one by one, part-filled trays take the room of fuller ones on other days, and an order goes short.
    Where ``best`` leaves one of ``fillable`` short, a mixed-integer program in which only these trays are
    whole finds room for them with all those orders filled. The dive from ``opened`` takes no more trays.
    """
    trays = compiled.columns(TRAYS)
    if not len(trays) or best.columns[fillable].max(initial=0.0) <= SHORT:
        return best
    told("search")
    with suppress(SolveError):
        all_filled = with_fixed(strong.compiled, fillable, compiled.lower[fillable])
        found = effort.search(solver(all_filled, trays, **TRAYS_DECIDED), A_SEARCH)
        upper = opened[0].upper.copy()
        upper[trays] = np.minimum(upper[trays], np.round(found.columns[trays]))
        roomy = replace(opened[0], upper=upper)
        start = run(solver(roomy), start=opened[1])
        better = _dived(roomy, start, fillable, groups, SHARES[0], told)
        best = min(best, better, key=lambda solution: solution.objective)
    return best


def _filled(
    program: Program, strong: Strong, effort: Effort, progress: Say, plans: Plans
) -> tuple[Solution, dict[str, Filling]]:
    """The plan or a cheaper one, and what is known of filling each order that it leaves short needlessly."""
    told = part_of("whole trays", progress)
    most = FILLINGS if len(program.network.waves) <= SEARCHED else FEW_FILLINGS
    return fill(program, strong, plans, partial(dived, program), most, effort, told)


def _searched_from(
    compiled: Compiled, strong: Strong, best: Solution, effort: Effort, share: float = MAIN_SEARCH
) -> tuple[Solution, float]:
    """The better of a whole solution and of the one that HiGHS finds, and the bound that it proves."""
    bound = strong.optimum.objective
    best = held_whole(compiled, best)
    if best.objective <= bound + LEAST_GAIN:
        return best, bound
    with suppress(SolveError):
        better = searched(strong.compiled, best.objective, effort, share)
        bound = max(bound, better.bound)
        best = min(best, held_whole(compiled, better), key=lambda solution: solution.objective)
    return best, bound


def _searched_in_use(
    compiled: Compiled, strong: Strong, opened: Solution, best: Solution, effort: Effort
) -> Solution:
    """The better of a whole solution and of the one that HiGHS finds among the waves in use.

    In use are the waves of the solution and those of the optima with rows added.
    """
    trays, wanted = compiled.columns(("sown",)), compiled.columns(WHOLE)
    most = np.max([of.columns for of in (best, opened, strong.optimum)], axis=0)
    unused = trays[most[trays] <= FILLED]
    few = at_most(with_fixed(strong.compiled, unused, compiled.lower[unused]), wanted, most[wanted])
    with suppress(SolveError):
        found = effort.search(solver(few, wanted, **IN_USE), A_SEARCH)
        best = min(best, held_whole(compiled, found), key=lambda solution: solution.objective)
    return best
