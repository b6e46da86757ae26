"""Methods of grafting, their stages, and what they do by the ages of both seedlings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from model.scenario import batches
from model.scenario.choices import (
    MatchFrom,
    MethodKind,
    Part,
)
from model.scenario.ranges import LEAST_SHARE, PLANTS
from model.scenario.schema import NOTE, blank, days, number, ref, share, whole

_METHOD = ("methods", "method")
_ZONE = ("zones", "zone")


@dataclass(frozen=True, slots=True)
class Method:
    """Methods of grafting, or of raising own-root plants: graft windows, match, take, holding."""

    method: Annotated[str, "Name of the method. Use one method for each crop where windows or take differ."]
    kind: Annotated[
        MethodKind,
        "on-tray: the rootstock stays in its final cell. root-cut: the rootstock is cut off its roots and "
        "stuck into a fresh cell. own-root: not grafted.",
    ]
    scion_age_min: Annotated[int, "Least age of the scion on graft day, counted from sowing.", days()]
    scion_age_max: Annotated[int, "Greatest age of the scion on graft day, counted from sowing.", days()]
    rootstock_age_min: Annotated[
        int | None,
        "Least age of the rootstock on graft day, counted from sowing; blank for own-root.",
        days(),
    ]
    rootstock_age_max: Annotated[
        int | None,
        "Greatest age of the rootstock on graft day, counted from sowing; blank for own-root.",
        days(),
    ]
    match_from: Annotated[
        MatchFrom,
        "Where the stem match comes from. number: column 'match'. ages: table age_effects. diameters: the "
        "stem diameters of the lots and 'stem_tolerance_mm'.",
        blank(MatchFrom.NUMBER),
    ]
    match: Annotated[
        float | None,
        "Stem match: share of seedlings brought to the bench that find a partner of like stem diameter.",
        share(low=LEAST_SHARE),
    ]
    stem_tolerance_mm: Annotated[
        float | None,
        "Largest difference between the stem diameters of two seedlings that can be joined.",
        number("mm", low=0.01, high=100),
    ]
    take: Annotated[float | None, "Share of joins that heal; blank for own-root.", share(low=LEAST_SHARE)]
    consolidate: Annotated[
        bool,
        "Whether the gaps left by blanks and failed joins are filled after healing, so that fewer trays go "
        "on.",
        blank(False),
    ]
    finish_survival: Annotated[float, "Share of healed plants that can be sold.", share(1.0, low=LEAST_SHARE)]
    holding_zone: Annotated[str, "Zone in which ready plants wait for their due day.", ref(_ZONE)]
    holding_limit_days: Annotated[int, "Most days from ready day to due day.", days(0)]
    take_correlation: Annotated[
        float | None,
        "How alike the joins of one graft day fare: intra-lot correlation of take. 0: each join heals or "
        "fails independently. Higher: the whole day does better or worse than the take. Blank: "
        f"{batches.GRAFT_DAY:g} (common practice, no source).",
        share(high=0.9),
    ] = None
    at_bench: Annotated[
        str | None,
        "What to mind when joining by this method, for the work lists: how the seedlings look, what is cut, "
        "what is kept.",
    ] = None
    open_cuts_most: Annotated[
        int | None,
        "Most cuts that one hand has open at a time, for the work lists: so many are cut, joined and covered "
        "before the next. About five in warm humid air (common practice, no source). Blank: not said.",
        whole("cuts", low=1, high=1000),
    ] = None
    least_batch: Annotated[
        int | None,
        "Fewest joins of the method on a graft day that a crew sets up for, all products together: so many "
        "or none are made. Half a tray to two trays (common practice, no source). Blank: no least.",
        whole("joins", low=1, high=PLANTS),
    ] = None
    note: Annotated[str | None, NOTE] = None

    @property
    def between_days(self) -> float:
        """Correlation within a graft day: the method's own, or what stands in for it; 0 for own-root."""
        if self.kind is MethodKind.OWN_ROOT:
            return 0.0
        return batches.GRAFT_DAY if self.take_correlation is None else self.take_correlation


@dataclass(frozen=True, slots=True)
class Stage:
    """Stages: runs of days in one zone, after graft day (own-root: after the seedling bench)."""

    method: Annotated[str, "Method that the stage belongs to.", ref(_METHOD)]
    step: Annotated[int, "Position among the stages of the method: 1, 2, 3 ...", whole("", low=1, high=100)]
    stage: Annotated[str, "Name of the stage: dark, ramp, hardening ..."]
    part: Annotated[
        Part, "healing: until the union holds; the take is counted at its end. finishing: after healing."
    ]
    zone: Annotated[str, "Zone in which the plants stand.", ref(_ZONE)]
    days: Annotated[int, "Days in the stage.", days()]
    temperature: Annotated[
        float | None, "Air temperature to keep, for lists and tags.", number("°C", low=-10, high=60)
    ] = None
    humidity: Annotated[float | None, "Relative humidity to keep, for lists and tags.", share()] = None
    light: Annotated[
        float | None, "Light on the plants, for lists and tags; 0 is dark.", number("µmol/m²/s", high=3000)
    ] = None
    light_hours: Annotated[
        float | None, "Hours of light a day, for lists and tags.", number("h", high=24)
    ] = None
    mistings: Annotated[
        int | None,
        "Times a day that the plants are misted, days off too, for lists and tags; its time is part of care. "
        "0: not misted. Blank: not said.",
        whole("times", high=100),
    ] = None

    @property
    def climate(self) -> str:
        """Climate and misting in words, such as "26 °C, 95 % humidity, dark"; blank if none is given."""
        light = None if self.light is None else f"{self.light:g} µmol/m²/s" if self.light else "dark"
        if light and self.light and self.light_hours is not None:
            light = f"{light} for {self.light_hours:g} h a day"
        words = (
            None if self.temperature is None else f"{self.temperature:g} °C",
            None if self.humidity is None else f"{100 * self.humidity:g} % humidity",
            light,
            self._misted,
        )
        return ", ".join(word for word in words if word)

    @property
    def _misted(self) -> str | None:
        if self.mistings is None:
            return None
        times = {0: "not misted", 1: "misted once a day", 2: "misted twice a day"}
        return times.get(self.mistings, f"misted {self.mistings} times a day")


@dataclass(frozen=True, slots=True)
class AgeEffect:
    """Stem match and take by the ages of both seedlings, where the nursery has counted them."""

    method: Annotated[str, "Method that the figures belong to.", ref(_METHOD)]
    rootstock_age: Annotated[int, "Age of the rootstock on graft day.", days()]
    scion_age: Annotated[int, "Age of the scion on graft day.", days()]
    match: Annotated[float | None, "Stem match at these ages.", share(low=LEAST_SHARE)] = None
    take: Annotated[float | None, "Take at these ages; blank: the method's take.", share(low=LEAST_SHARE)] = (
        None
    )
