"""A row of each constraint group, worked by hand; variables have the names of a program file."""

from __future__ import annotations

from typing import NamedTuple

from model.program.index_sets import Label


class Worked(NamedTuple):
    """A row worked by hand."""

    label: Label
    coefs: dict[str, float]
    lower: float | None
    upper: float | None


WORKED = {
    # A join takes 1 / .75 seedlings; a rootstock tray has 10 x .8, drawn on by joins of days 2 and 3.
    "seedlings": Worked(
        ("bottom", "tens", "2027-03-01"),
        {
            "joins(plant,2027.03.03,bottom,tens,2027.03.01,top,twenties,2027.03.01)": 4 / 3,
            "joins(plant,2027.03.04,bottom,tens,2027.03.01,top,twenties,2027.03.02)": 4 / 3,
            "sown(bottom,tens,2027.03.01)": -8.0,
        },
        None,
        0.0,
    ),
    # After day 2 the trays left hold the seedlings of day 3's joins.
    "bench_trays": Worked(
        ("bottom", "tens", "2027-03-01", "2027-03-03"),
        {
            "joins(plant,2027.03.04,bottom,tens,2027.03.01,top,twenties,2027.03.02)": 4 / 3,
            "left(bottom,tens,2027.03.01,2027.03.03)": -8.0,
        },
        None,
        0.0,
    ),
    # Sown on day 0, first drawn on on day 2: out of the cabinet on day 1, off the bench's mats on day 2.
    "trays_elsewhere": Worked(
        ("bottom", "tens", "2027-03-01"),
        {
            "sown(bottom,tens,2027.03.01)": -1.0,
            "sown_into(bottom,tens,2027.03.01,cabinet)": 1.0,
            "sown_into(bottom,tens,2027.03.01,bench)": 1.0,
        },
        None,
        0.0,
    ),
    # Day 3's scions are joined on rootstocks sown on day 0 and on day 1.
    "flow_joins": Worked(
        ("plant", "2027-03-04"),
        {
            "grafted(plant,2027.03.04)": -1.0,
            "joins(plant,2027.03.04,bottom,tens,2027.03.01,top,twenties,2027.03.02)": 1.0,
            "joins(plant,2027.03.04,bottom,tens,2027.03.02,top,twenties,2027.03.02)": 1.0,
        },
        0.0,
        0.0,
    ),
    # Own-root plants stay in their 20 cells, of which .9 stand: 18 a tray.
    "flow_trays": Worked(
        ("own plant", "2027-03-04"),
        {
            "loaded(own_plant,2027.03.04)": -1.0,
            "joins(own_plant,2027.03.04,,,,top,twenties,2027.03.02)": 1 / 18,
        },
        None,
        0.0,
    ),
    "whole_trays_loaded": Worked(
        ("plant", "2027-03-04"),
        {"loaded(plant,2027.03.04)": 1.0, "whole_loaded(plant,2027.03.04)": -1.0},
        0.0,
        0.0,
    ),
    # Ten healed plants fill a tray.
    "whole_trays_finishing": Worked(
        ("plant", "2027-03-04"),
        {"healed(plant,2027.03.04)": 0.1, "finishing(plant,2027.03.04)": -1.0},
        None,
        0.0,
    ),
    # One plant needs 1 x 1.1 / (.9 x .95), so 2 seedlings: of 4 cells at .8 two or more hold one with .973,
    # of 3 with .896 only; 4 x .8 is .6 more than 2. Three need 4: of 6 cells with .901; 4.8 is .2 more.
    # All keep .2 of what is drawn, and the one plant .4 more of 1.1 / (.75 x .9 x .95) seedlings.
    "spare_seedlings": Worked(
        ("plant", "2027-03-04", "rootstock"),
        {
            "spare(plant,2027.03.04,rootstock,bottom,tens,2027.03.01)": -1.0,
            "spare(plant,2027.03.04,rootstock,bottom,tens,2027.03.02)": -1.0,
            "joins(plant,2027.03.04,bottom,tens,2027.03.01,top,twenties,2027.03.02)": 0.2 / 0.75,
            "joins(plant,2027.03.04,bottom,tens,2027.03.02,top,twenties,2027.03.02)": 0.2 / 0.75,
            "delivered(plant,2027.03.04,one)": 0.4 * 1.1 / (0.75 * 0.9 * 0.95),
        },
        None,
        0.0,
    ),
    "flow_healed": Worked(
        ("plant", "2027-03-03"),
        {
            "healed(plant,2027.03.03)": -1.0,
            "joins(plant,2027.03.03,bottom,tens,2027.03.01,top,twenties,2027.03.01)": 0.9,
        },
        0.0,
        0.0,
    ),
    # A plant delivered stands for 1.1 finished; of those healed .95 finish.
    "take": Worked(
        ("plant", "2027-03-04"),
        {
            "delivered(plant,2027.03.04,spring)": 1.1,
            "surplus(plant,2027.03.04)": 1.0,
            "healed(plant,2027.03.04)": -0.95,
        },
        0.0,
        0.0,
    ),
    # .4 of 30 plants.
    "day_share": Worked(
        ("spring", "2027-03-04"),
        {"delivered(plant,2027.03.04,spring)": 1.0},
        None,
        12.0,
    ),
    "parts_of_lots": Worked(
        ("plant", "2027-03-03", "spring"),
        {
            "delivered(plant,2027.03.03,spring)": -1.0,
            "from_lots(plant,2027.03.03,spring,bottom,crown)": 1.0,
            "from_lots(plant,2027.03.03,spring,bottom,top)": 1.0,
        },
        0.0,
        0.0,
    ),
    # Half of 30 plants.
    "lot_share": Worked(
        ("spring", "crown"),
        {
            "from_lots(plant,2027.03.03,spring,bottom,crown)": 1.0,
            "from_lots(plant,2027.03.04,spring,bottom,crown)": 1.0,
        },
        None,
        15.0,
    ),
    # A plant delivered stands for 1.1 finished; of the joins .9 take and .95 of these finish.
    "plants_of_lots": Worked(
        ("plant", "2027-03-03", "bottom", "crown"),
        {
            "from_lots(plant,2027.03.03,spring,bottom,crown)": 1.1,
            "joins(plant,2027.03.03,bottom,tens,2027.03.01,crown,twenties,2027.03.01)": -0.9 * 0.95,
        },
        None,
        0.0,
    ),
    "salvage": Worked(
        ("plant",),
        {"sold(plant)": 1.0, "surplus(plant,2027.03.03)": -1.0, "surplus(plant,2027.03.04)": -1.0},
        None,
        0.0,
    ),
    # 12 plants: from the two flows, by a delivery on Thursday or Friday, short, or all 12 declined.
    "order": Worked(
        ("summer",),
        {
            "delivered(plant,2027.03.03,summer)": 1.0,
            "delivered(plant,2027.03.04,summer)": 1.0,
            "bought(neighbour,2027.03.04,summer)": 1.0,
            "bought(neighbour,2027.03.05,summer)": 1.0,
            "short(summer)": 1.0,
            "declined_whole(summer)": 12.0,
        },
        12.0,
        12.0,
    ),
    # Rootstock and scions of day 1, and what is left of day 0's rootstock; a scion tray takes 1.5 slots;
    # 20 slots from day 2 on.
    "slots": Worked(
        ("bench", "2027-03-03"),
        {
            "sown(bottom,tens,2027.03.02)": 1.0,
            "sown(top,twenties,2027.03.02)": 1.5,
            "left(bottom,tens,2027.03.01,2027.03.03)": 1.0,
        },
        None,
        20.0,
    ),
    # Trays that begin to heal on day 3 go into units opened on day 2 or on day 3.
    "unit_loads": Worked(
        ("plant", "2027-03-04", "chamber", "2027-03-04"),
        {
            "in_unit(plant,2027.03.04,chamber,2027.03.04,2027.03.03,2027.03.05)": 1.0,
            "in_unit(plant,2027.03.04,chamber,2027.03.04,2027.03.04,2027.03.05)": 1.0,
            "loaded(plant,2027.03.04)": -1.0,
        },
        0.0,
        0.0,
    ),
    # Units opened on day 2 and free on day 4 take what begins on days 2 and 3; each has 5 slots.
    "unit_room": Worked(
        ("chamber", "2027-03-03", "2027-03-05"),
        {
            "in_unit(plant,2027.03.03,chamber,2027.03.03,2027.03.03,2027.03.05)": 1.0,
            "in_unit(plant,2027.03.04,chamber,2027.03.04,2027.03.03,2027.03.05)": 1.0,
            "units_opened(chamber,2027.03.03,2027.03.05)": -5.0,
        },
        None,
        0.0,
    ),
    # Units are loaded for 2 days: what is grafted on day 3 may go into those opened on day 2 or 3 that are
    # not free before it has healed.
    "parts_in_units": Worked(
        ("plant", "2027-03-04", "chamber", "2027-03-04", "spring"),
        {
            "delivered(plant,2027.03.04,spring)": -1.0,
            "in_units(plant,2027.03.04,spring,chamber,2027.03.04,2027.03.03,2027.03.05)": 1.0,
            "in_units(plant,2027.03.04,spring,chamber,2027.03.04,2027.03.04,2027.03.05)": 1.0,
        },
        0.0,
        0.0,
    ),
    # .4 of 30 plants in each unit.
    "unit_share": Worked(
        ("spring", "2027-03-03", "chamber", "2027-03-05"),
        {
            "in_units(plant,2027.03.03,spring,chamber,2027.03.03,2027.03.03,2027.03.05)": 1.0,
            "in_units(plant,2027.03.04,spring,chamber,2027.03.04,2027.03.03,2027.03.05)": 1.0,
            "units_opened(chamber,2027.03.03,2027.03.05)": -12.0,
        },
        None,
        0.0,
    ),
    # A tray holds 8 usable rootstocks of 10 cells: .75 find a partner, .9 take, .95 finish.
    "plants_in_units": Worked(
        ("plant", "2027-03-03", "chamber", "2027-03-03", "2027-03-02", "2027-03-04"),
        {
            "in_units(plant,2027.03.03,spring,chamber,2027.03.03,2027.03.02,2027.03.04)": 1.1,
            "in_unit(plant,2027.03.03,chamber,2027.03.03,2027.03.02,2027.03.04)": -8 * 0.75 * 0.9 * 0.95,
        },
        None,
        0.0,
    ),
    # Units opened on day 1 may hold trays from day 2 to 3. Of those opened on day 2 some are free on day 3,
    # as they hold trays from day 2 only, others on day 4. On day 2 all are busy. 2 units and an added one.
    "units_busy": Worked(
        ("chamber", "2027-03-03"),
        {
            "units_opened(chamber,2027.03.02,2027.03.04)": 1.0,
            "units_opened(chamber,2027.03.03,2027.03.04)": 1.0,
            "units_opened(chamber,2027.03.03,2027.03.05)": 1.0,
        },
        None,
        3.0,
    ),
    # What is grafted on day 3 heals for a day; bays have 2.5 slots by then.
    "bay_room": Worked(
        ("chamber", "2027-03-04"),
        {"loaded(plant,2027.03.04)": 1.0, "bays_open(chamber,2027.03.01)": -2.5},
        None,
        0.0,
    ),
    # Day 3, in hours: day 2's flow is graded, .95 x 2 / 3600 each healed, and what is held of it moved and
    # tended in trays of 10: 1.1 / 10 x (30 + 6) / 3600; trays grafted that day are moved and cared for. Three
    # growers stand beside the machine that grafts.
    "skill_hours": Worked(
        ("growing", "2027-03-04"),
        {
            "healed(plant,2027.03.03)": 1.9 / 3600,
            "delivered(plant,2027.03.03,spring)": 0.11 * 36 / 3600,
            "loaded(plant,2027.03.04)": 90 / 3600,
            "admitted(seed_lot,bottom,grafting_table,2027.03.04)": 540 / 3600,
            "admitted(seed_lot,top,grafting_table,2027.03.04)": 540 / 3600,
            "worked(machine,grafting,2027.03.04)": 3.0,
            "worked(hands,growing,2027.03.04)": -1.25,
            "temporary_worked(hands,growing,2027.03.04)": -0.5,
        },
        None,
        0.0,
    ),
    # Monday, day 7: grafting and all other work.
    "crew_hours": Worked(
        ("hands", "2027-03-08"),
        {
            "worked(hands,grafting,2027.03.08)": 1.0,
            "worked(hands,growing,2027.03.08)": 1.0,
            "regular(hands,2027.03.08)": -1.0,
            "overtime(hands,2027.03.08)": -1.0,
        },
        0.0,
        0.0,
    ),
    # 2 heads of 40 hours in the second week; it has two days.
    "week_hours": Worked(
        ("hands", "2027-03-08"),
        {
            "regular(hands,2027.03.08)": 1.0,
            "overtime(hands,2027.03.08)": 1.0,
            "regular(hands,2027.03.09)": 1.0,
            "overtime(hands,2027.03.09)": 1.0,
        },
        None,
        80.0,
    ),
    "temporary_new": Worked(
        ("hands", "2027-03-08"),
        {
            "temporary_hands(hands,2027.03.08)": 1.0,
            "temporary_hands(hands,2027.03.01)": -1.0,
            "new_hands(hands,2027.03.08)": -1.0,
        },
        None,
        0.0,
    ),
    # A hand that has stayed for a week was there in the week before, and is there.
    "temporary_stayed": Worked(
        ("hands", "2027-03-08", 1, "2027-03-01"),
        {"stayed_hands(hands,2027.03.08,1)": 1.0, "temporary_hands(hands,2027.03.01)": -1.0},
        None,
        0.0,
    ),
    # Two days of training: in the second week both days are, in the first one those before any work.
    "temporary_hours": Worked(
        ("hands", "2027-03-09"),
        {
            "temporary_worked(hands,growing,2027.03.09)": 1.0,
            "temporary_hands(hands,2027.03.08)": -8.0,
            "new_hands(hands,2027.03.08)": 8.0,
        },
        None,
        0.0,
    ),
    "temporary_overtime_most": Worked(
        ("hands", "2027-03-09"),
        {"temporary_overtime(hands,2027.03.09)": 1.0, "called_hands(hands,2027.03.09)": -1.5},
        None,
        0.0,
    ),
    # Two shifts of eight hours in the second week, on both of which new hands are trained.
    "temporary_week_hours": Worked(
        ("hands", "2027-03-08"),
        {
            "called_hands(hands,2027.03.08)": 8.0,
            "called_hands(hands,2027.03.09)": 8.0,
            "temporary_overtime(hands,2027.03.08)": 1.0,
            "temporary_overtime(hands,2027.03.09)": 1.0,
            "new_hands(hands,2027.03.08)": 16.0,
            "temporary_hands(hands,2027.03.08)": -40.0,
        },
        None,
        0.0,
    ),
    "called_most": Worked(
        ("hands", "2027-03-09"),
        {
            "called_hands(hands,2027.03.09)": 1.0,
            "temporary_hands(hands,2027.03.08)": -1.0,
            "new_hands(hands,2027.03.08)": 1.0,
        },
        None,
        0.0,
    ),
    # Three days at least, of which the second week has two.
    "called_least": Worked(
        ("hands", "2027-03-08"),
        {
            "called_hands(hands,2027.03.08)": 1.0,
            "called_hands(hands,2027.03.09)": 1.0,
            "new_hands(hands,2027.03.08)": 2.0,
            "temporary_hands(hands,2027.03.08)": -2.0,
        },
        0.0,
        None,
    ),
    # Two heads of ten hours, and two of the five working days.
    "guaranteed_hours": Worked(
        ("hands", "2027-03-08"),
        {
            "regular(hands,2027.03.08)": 1.0,
            "regular(hands,2027.03.09)": 1.0,
            "idle(hands,2027.03.08)": 1.0,
        },
        8.0,
        None,
    ),
    # Two heads of six hours.
    "skill_limits": Worked(
        ("hands", "2027-03-09", "growing"),
        {"worked(hands,growing,2027.03.09)": 1.0},
        None,
        12.0,
    ),
    "temporary_skill_limits": Worked(
        ("hands", "2027-03-09", "growing"),
        {
            "temporary_worked(hands,growing,2027.03.09)": 1.0,
            "temporary_hands(hands,2027.03.08)": -6.0,
            "new_hands(hands,2027.03.08)": 6.0,
        },
        None,
        0.0,
    ),
    # Packing is paid by the piece, so grading, which needs the same skill, is told apart.
    "piece_hours": Worked(
        ("hands", "2027-03-05", "growing"),
        {
            "worked_at_task(hands,growing,grade,splice,tens,2027.03.05)": 1.0,
            "worked_at_task(hands,growing,pack,splice,tens,2027.03.05)": 1.0,
            "worked(hands,growing,2027.03.05)": -1.0,
        },
        0.0,
        0.0,
    ),
    # A join takes 18 s at the standard pace; hands of pace 1.25.
    "piece_work": Worked(
        ("grafting", "2027-03-04", "graft", "splice", "tens"),
        {
            "grafted(plant,2027.03.04)": -18 / 3600,
            "worked_at_task(hands,grafting,graft,splice,tens,2027.03.04)": 1.25,
        },
        None,
        0.0,
    ),
    "buy_in_quantity": Worked(
        ("neighbour", "2027-03-05", "most"),
        {
            "bought(neighbour,2027.03.05,spring)": 1.0,
            "bought(neighbour,2027.03.05,summer)": 1.0,
            "spare_bought(neighbour,2027.03.05)": 1.0,
            "offer_taken(neighbour,2027.03.05)": -25.0,
        },
        None,
        0.0,
    ),
    # 30 x 1.1 and 5 left over; a rootstock tray gives 8 x .75 x .9 x .95 = 5.13 plants: 7.4 trays.
    "waves_sown": Worked(
        ("bottom", "tens", "2027-03-02"),
        {"sown(bottom,tens,2027.03.02)": 1.0, "wave_opened(bottom,tens,2027.03.02)": -8.0},
        None,
        0.0,
    ),
    # 30 x 1.1 and 5 left over, of joins of which .9 x .95 can be sold: 44.4, four times 45.
    "least_batches": Worked(
        ("splice", "2027-03-04", "most"),
        {"grafted(plant,2027.03.04)": 1.0, "batch_set_up(splice,2027.03.04)": -180.0},
        None,
        0.0,
    ),
    # 25 plants ride in 3 trays of 10: .12 of a tray each. Due on Friday, they leave on Thursday; ready or
    # bought later, they leave on Saturday, and are a day late by then.
    "run_room": Worked(
        ("coast", "2027-03-06"),
        {
            "delivered(plant,2027.03.04,spring)": 0.12,
            "delivered(plant,2027.03.05,spring)": 0.12,
            "bought(neighbour,2027.03.05,spring)": 0.12,
            "bought(neighbour,2027.03.06,spring)": 0.12,
            "vehicles(coast,2027.03.06)": -2.0,
        },
        None,
        0.0,
    ),
    # A plant is a tenth of a tray.
    "whole_trays_riding": Worked(
        ("coast", "2027-03-04", "spring"),
        {
            "delivered(plant,2027.03.03,spring)": 0.1,
            "bought(neighbour,2027.03.03,spring)": 0.1,
            "bought(neighbour,2027.03.04,spring)": 0.1,
            "riding(coast,2027.03.04,spring)": -1.0,
        },
        None,
        0.0,
    ),
    "run_vehicles": Worked(("coast", "2027-03-04"), {"vehicles(coast,2027.03.04)": 1.0}, None, 2.0),
    # 30 x 1.1 plants at .75 x .9 x .95 = .64125 a seedling: 51.462 seedlings at most.
    "groups_in_flows": Worked(
        ("seed lot", "crown", "plant", "2027-03-03"),
        {
            "joins(plant,2027.03.03,bottom,tens,2027.03.01,crown,twenties,2027.03.01)": 4 / 3,
            "carried(seed_lot,crown,plant,2027.03.03)": -33 / 0.64125,
        },
        None,
        0.0,
    ),
    # Plants ready on day 3 are held for a day; there they are of the lots of their flow.
    "groups_in_places": Worked(
        ("seed lot", "top", "hold", "2027-03-04", "delivered", 0),
        {
            "delivered(plant,2027.03.03,spring)": 1.0,
            "admitted(seed_lot,top,hold,2027.03.04)": -30.0,
            "carried(seed_lot,top,plant,2027.03.03)": 30.0,
        },
        None,
        30.0,
    ),
    # "top" leaves the chamber on the evening of day 2; a day of cleaning, then "crown" may come, on day 4.
    "groups_apart": Worked(
        ("seed lot", "crown", "chamber", "2027-03-04", "seed lot", "top", "chamber", "2027-03-03"),
        {
            "admitted(seed_lot,crown,chamber,2027.03.04)": 1.0,
            "admitted(seed_lot,top,chamber,2027.03.03)": 1.0,
        },
        None,
        1.0,
    ),
    # 51.462 seedlings at most, 8 usable ones a tray of rootstocks, in the units not for "top", of either day.
    "units_apart": Worked(
        ("seed lot", "top", "plant", "2027-03-04", "chamber", "2027-03-04"),
        {
            "in_unit(plant,2027.03.04,chamber,2027.03.04,2027.03.03,2027.03.05,seed_lot_top)": 1.0,
            "in_unit(plant,2027.03.04,chamber,2027.03.04,2027.03.04,2027.03.05,seed_lot_top)": 1.0,
            "carried(seed_lot,top,plant,2027.03.04)": 33 / 0.64125 / 8,
        },
        None,
        33 / 0.64125 / 8,
    ),
    # Scions have two lots, rootstocks one.
    "one_lot": Worked(
        ("spring", "scion"),
        {"lot_chosen(spring,scion,crown)": 1.0, "lot_chosen(spring,scion,top)": 1.0},
        None,
        1.0,
    ),
    # A flow with scions of "top" serves "spring" only where the order may come from "top".
    "plants_of_one_lot": Worked(
        ("spring", "scion", "top", "plant", "2027-03-04", "spring"),
        {
            "delivered(plant,2027.03.04,spring)": 1.0,
            "lot_chosen(spring,scion,top)": -30.0,
            "carried(seed_lot,top,plant,2027.03.04)": 30.0,
        },
        None,
        30.0,
    ),
    # 20 seeds a tray of scions, sown on days 0 and 1, before new seed can come on day 2.
    "stock": Worked(
        ("top", "2027-03-03"),
        {"sown(top,twenties,2027.03.01)": 20.0, "sown(top,twenties,2027.03.02)": 20.0},
        None,
        60.0,
    ),
    # 2 clips a join. Before day 3 none are back: all of day 2's joins are from stock or from packs of 10.
    "packs_out": Worked(
        ("clip", "2027-03-04"),
        {"grafted(plant,2027.03.03)": 2.0, "packs_bought(clip,10)": -10.0},
        None,
        20.0,
    ),
    # A label a tray sown, half a one a plant; sold by 50.
    "packs": Worked(
        ("label",),
        {
            "sown(bottom,tens,2027.03.01)": 1.0,
            "sown(top,twenties,2027.03.01)": 1.0,
            "sown(bottom,tens,2027.03.02)": 1.0,
            "sown(top,twenties,2027.03.02)": 1.0,
        }
        | {
            "delivered(plant,2027.03.03,spring)": 0.5,
            "delivered(plant,2027.03.04,spring)": 0.5,
            "packs_bought(label,50)": -50.0,
        },
        None,
        0.0,
    ),
}
