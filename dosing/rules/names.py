"""What drugs are called besides: which drug of a rule set somebody means who types its name in words of his own."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from dosing.ground import text, units
from dosing.ground.facts import Amount
from dosing.ground.language import gettext as _
from dosing.ground.phases import TRANSPORT
from dosing.ground.tables import load
from dosing.rules.rule_set import RuleSet, Treatment

BY_MOUTH = "PO"
_TAKEN = " | "  # stands for what was found, so that no shorter name is found within it


@dataclass(frozen=True, slots=True)
class Named:
    """The name that was found, as the rule set writes it, and the treatments of every drug that was named."""

    name: str
    drugs: tuple[str, ...]
    treatments: tuple[Treatment, ...]

    def told(self, rules: RuleSet) -> str:
        """What it is and where it stands: ``“Levophed” is norepinephrine, in the rules as norepinephrine infusion``."""
        drugs = text.either_text(text.drug_text(drug, rules.tall_man) for drug in self.drugs)
        titles = text.either_text(treatment.title for treatment in self.treatments)
        is_drug = (
            ""
            if words_of(self.name) in map(words_of, self.drugs)
            else _("“{name}” is {drugs}, ", name=self.name, drugs=drugs)
        )
        return _("{is_drug}in the rules as {titles}", is_drug=is_drug or _("{drugs} is ", drugs=drugs), titles=titles)


@lru_cache(maxsize=1024)
def named(told: str, rules: RuleSet) -> Named | None:
    """The drugs of the rule set that a text names, alone or among other words; None where it names none.

    Of two names the longer is found: ``nor-epinephrine`` is no epinephrine.
    """
    words, found = spoken(told), dict[str, str]()
    for name, called in by_name(rules).items():
        if name in words:
            words = words.replace(name, _TAKEN)
            found |= {drug: found.get(drug, called.written) for drug in called.drugs}
    if not found:
        return None
    treatments = tuple(each for each in rules.treatments.values() if each.drug in found)
    return Named(next(iter(found.values())), tuple(found), treatments)


def spoken(told: str) -> str:
    """A text as small words between blanks, once with its digits and once without: ``D50``, and ``epinephrine1mg``."""
    parted = unicodedata.normalize("NFKD", told.casefold())
    plain = "".join(letter for letter in parted if not unicodedata.combining(letter))
    return _TAKEN.join(f" {' '.join(re.findall(kind, plain))} " for kind in ("[a-z0-9]+", "[a-z]+"))


def words_of(name: str) -> str:
    """A name as the small words that are looked for, between blanks."""
    return spoken(name).split(_TAKEN)[0]


class Called(NamedTuple):
    """A name as the rule set writes it, and the drugs that it stands for."""

    written: str
    drugs: tuple[str, ...]


@lru_cache(maxsize=32)
def by_name(rules: RuleSet) -> dict[str, Called]:
    """What each name stands for, by its words, the longest first; a drug's own name is one of them."""
    own = [(treatment.drug, treatment.drug) for treatment in rules.treatments.values()]
    known: dict[str, Called] = {}
    for name, drug in (*own, *((name, each.drug) for each in rules.names for name in each.names)):
        before = known.get(words_of(name), Called(name, ()))
        known[words_of(name)] = Called(before.written, tuple(dict.fromkeys((*before.drugs, drug))))
    return dict(sorted(known.items(), key=lambda each: -len(each[0])))


def treatment_told(
    told: str, amount: Amount | None, route: str, rules: RuleSet, phase: str = TRANSPORT
) -> Treatment | None:
    """The one treatment that a dose told by a name in words of one's own can be; None where several can, or none.

    By the phase of the case and its unit; where that leaves several, by its route too.
    """
    known = named(told, rules)
    if known is None or amount is None or not route:
        return None
    alike = [each for each in known.treatments if _given_in(each, phase) and _stated_so(amount, each)]
    if len(alike) > 1:
        alike = [each for each in alike if route in each.routes]
    return alike[0] if len(alike) == 1 else None


@lru_cache(maxsize=1024)
def counted_as(told: str, unit: str, route: str, rules: RuleSet, phase: str = TRANSPORT) -> frozenset[str]:
    """Every treatment for which a dose told by a name counts, by its slug: each that phase, unit and route leave.

    What is not said, or leaves none, leaves all. A drug that was not given, or acts elsewhere, counts for none.
    """
    known = None if _is_none(told) else named(told, rules)
    if known is None or (route == BY_MOUTH and not any(BY_MOUTH in each.routes for each in known.treatments)):
        return frozenset()
    left = known.treatments
    tests = (
        lambda each: _given_in(each, phase),
        lambda each: bool(unit) and _stated_so(Amount(1, unit), each),
        lambda each: route in each.routes,
    )
    for fits in tests:
        left = tuple(filter(fits, left)) or left
    return frozenset(each.slug for each in left)


def _is_none(told: str) -> bool:
    """Whether a name says that nothing of it was given, or nothing that counts: ``no magnesium``, ``blood thinner``."""
    words, tables = spoken(told), load("rules/no_dose")
    return any(words_of(name) in words for name in tables["others"]["names"]) or any(
        words.startswith(words_of(name)) for name in tables["denied"]["names"]
    )


def _given_in(treatment: Treatment, phase: str) -> bool:
    return not treatment.phases or phase in treatment.phases


def _stated_so(amount: Amount, treatment: Treatment) -> bool:
    kinds = treatment.kinds("adult") | treatment.kinds("child")
    pump = treatment.form == "infusion" and units.kind(amount.unit) == "volume/min"
    return pump or units.kind(amount.unit) in kinds


@lru_cache(maxsize=1024)
def class_told(told: str, route: str, rules: RuleSet, phase: str = TRANSPORT) -> str:
    """The class of a dose that is known by its name alone, by those of its treatments that take the route; else "".

    Only what is given in the phase counts.
    """
    known = named(told, rules)
    every = [each for each in (known.treatments if known else ()) if _given_in(each, phase)]
    classes = {each.drug_class for each in ([each for each in every if route in each.routes] or every)}
    return classes.pop() if len(classes) == 1 else ""
