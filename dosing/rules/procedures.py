"""What a pacemaker or defibrillator is set to, by what it is for and for whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from dosing.rules import words
from dosing.rules.parts import Figure, Source, Who
from dosing.rules.shape import OneOf, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcedureRule:
    """Usual settings of pacing, cardioversion or defibrillation: at first, and the next time or step."""

    procedure: Annotated[str, OneOf(words.PACED_OR_SHOCKED)]
    title: Annotated[str, "for what, such as `fast, narrow and regular`"]
    who: Annotated[str, Who]
    synchronized: Annotated[bool, "with the beat of the heart"] = False
    first_j: Annotated[Figure | None, Unit("J"), "energy of the first shock"] = None
    next_j: Annotated[Figure | None, Unit("J"), "energy of the next shock"] = None
    first_j_per_kg: Annotated[Figure | None, Unit("J/kg"), "the same by weight"] = None
    next_j_per_kg: Annotated[Figure | None, Unit("J/kg"), "the same by weight"] = None
    most_j: Annotated[Figure | None, Unit("J"), "what an energy by weight never exceeds"] = None
    rate: Annotated[Figure | None, Unit("beats per min"), "of pacing"] = None
    output_ma: Annotated[Figure | None, Unit("mA"), "output with which pacing begins"] = None
    step_ma: Annotated[Figure | None, Unit("mA"), "by which it is raised until each beat has a pulse"] = None
    source: Source
