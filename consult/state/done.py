"""What was done that is not a drug: procedures with what a device was set to, and shocks."""

from __future__ import annotations

from msgspec import Struct

from dosing.ground.facts import Number
from dosing.ground.kinds import Id, Time


class Settings(Struct, frozen=True, kw_only=True):
    """What a pacemaker (beats a minute, mA) or defibrillator (J) was set to; null where it was not told."""

    rate: Number | None = None
    output_ma: Number | None = None
    joules: Number | None = None
    synchronized: bool | None = None


class Done(Struct, frozen=True, kw_only=True):
    """Something done that is not a drug, and what a device was set to."""

    id: Id
    at: Time
    procedure: str
    site: str | None = None
    gauge: Number | None = None
    outcome: str | None = None
    settings: Settings | None = None


class Shock(Struct, frozen=True):
    """A shock without a beat to follow, and its energy in J where it was told."""

    id: Id
    at: Time
    joules: Number | None
