"""What is in hand: a line for each syringe, bag and cylinder, with what is left and how long that lasts."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

from msgspec import Struct

from consult.state.parts import InHand
from dosing.ground import text
from dosing.ground.facts import Amount, Facts
from dosing.ground.kinds import Id, Time, one_of
from dosing.ground.language import gettext as _
from dosing.ground.language import words
from dosing.held import ledger
from dosing.held.container_state import ContainerState
from dosing.held.ledger import DosesLeft
from dosing.rules.rule_set import RuleSet

OXYGEN = _("Oxygen")
PER_HOUR = 60


class HeldLine(Struct, frozen=True, kw_only=True):
    """What is left of a syringe, bag or cylinder: ``left`` at ``left_at``; from then on it runs at ``rate``.

    ``volume`` is what was in it, of a cylinder the liters down to its reserve; ``note`` says what is wrong with it.
    """

    id: Id
    form: Annotated[str, one_of("syringe", "bag", "cylinder")]
    treatment: str | None
    what: str
    strength: Amount | None
    strength_text: str
    volume: Amount
    left: Amount
    left_at: Time
    doses_left: DosesLeft | None
    rate: Amount | None
    lasts_to: Time | None
    mixed_at: Time
    mixed_by: str
    checked_by: str
    discard_at: Time | None
    note: str
    shown: str


def lines(containers: tuple[InHand, ...], facts: Facts, rules: RuleSet, most: int) -> tuple[HeldLine, ...]:
    """The newest of what is in hand and not used up, at the ``most`` so many, oldest first."""
    known = {each.id: each for each in containers}
    in_hand = ledger.holdings(facts, rules) if known else []
    shown_ones = [each for each in in_hand if ledger.worth_showing(each, in_hand)][-most:]
    return tuple(_line(each, known[each.container.id], facts, rules) for each in shown_ones)


def what(kept: InHand, rules: RuleSet) -> str:
    """What is in it: the treatment's title, the name of what the rule set lacks, or oxygen."""
    if kept.form == "cylinder":
        return OXYGEN
    treatment = rules.treatments.get(kept.treatment or "")
    return text.drug_text(treatment.title if treatment else kept.name or kept.treatment or "", rules.tall_man)


def shown(kept: InHand, rules: RuleSet) -> str:
    """A container on one line: ``EPINEPHrine push dose 10 mcg per mL, 10 mL syringe``."""
    if kept.cylinder:
        held = kept.cylinder
        size = held.size or _text(held.factor)
        return _("{oxygen}, {size} cylinder, {pressure}", oxygen=OXYGEN, size=size, pressure=_text(held.pressure))
    strength = f" {_text(kept.strength)}" if kept.strength else ""
    return f"{what(kept, rules)}{strength}, {_text(kept.volume)} {words(kept.form)}"


def _text(amount: Amount | None) -> str:
    return text.amount_text(amount) if amount else ""


def _line(held: ContainerState, kept: InHand, facts: Facts, rules: RuleSet) -> HeldLine:
    unit = "L" if kept.form == "cylinder" else "mL"
    return HeldLine(
        id=kept.id,
        form=kept.form,
        treatment=kept.treatment,
        what=what(kept, rules),
        strength=kept.strength,
        strength_text=_text(kept.strength),
        volume=_amount(held.volume, unit),
        left=_amount(held.left, unit),
        left_at=held.left_at,
        doses_left=ledger.doses_left(held, facts, rules),
        rate=_rate(held, unit),
        lasts_to=held.lasts_to if held.left or not _pushed(held) else None,
        mixed_at=held.container.at,
        mixed_by=kept.mixed_by or "",
        checked_by=kept.checked_by or "",
        discard_at=ledger.discard_at(held.container, facts, rules),
        note=ledger.note(held),
        shown=shown(kept, rules),
    )


def _rate(held: ContainerState, unit: str) -> Amount | None:
    """The rate at which it runs, oxygen a minute, all else an hour; pushes have none that a pump would show."""
    if not held.per_min or _pushed(held):
        return None
    return _amount(held.per_min, "L/min") if unit == "L" else _amount(held.per_min * PER_HOUR, "mL/h")


def _pushed(held: ContainerState) -> bool:
    return held.treatment is not None and held.treatment.form == "push"


def _amount(exact: Fraction, unit: str) -> Amount:
    return Amount(round(float(exact), 2), unit)
