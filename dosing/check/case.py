"""One question to the rules: this treatment, this patient, this moment, with everything the findings look at."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from dosing.check import earlier, wanted
from dosing.check.at_bedside import Bedside as Bedside
from dosing.check.at_bedside import bedside as bedside
from dosing.check.bands import DoseLimits, fits
from dosing.check.findings import Finding, level_of
from dosing.ground import text, units
from dosing.ground.containers import newest_in_hand
from dosing.ground.facts import Amount, Container, Dose, Proposal, Weight
from dosing.ground.given_before import GivenBefore, GivenFor
from dosing.ground.language import gettext as _
from dosing.ground.once import once
from dosing.ground.patient import age_text
from dosing.ground.units import Quantity, in_volume
from dosing.mix import stock
from dosing.rules.plain import source_text
from dosing.rules.rule_set import Figure, Source, Stocked, Strength, Treatment, Wants
from dosing.rules.words import ROUTES

NO_CLASS = "other"  # treatments that have nothing in common
INTO_THE_BLOOD = ("IV", "IO")


class UnknownIndication(LookupError):
    """An indication that the treatment does not have; ``known`` are those it has."""

    def __init__(self, indication: str, known: tuple[str, ...]) -> None:
        super().__init__(indication)
        self.known = known


@dataclass(frozen=True, kw_only=True)
class Question:
    """A treatment at the bedside, given for an indication, before any dose is named; no ``route``: the usual.

    ``new_rate``: what runs is set anew, so nothing is started.
    """

    bedside: Bedside
    treatment: Treatment
    route: str = ""
    new_rate: bool = False

    @once
    def limits(self) -> DoseLimits:
        """The limits of this treatment for this patient."""
        person = self.bedside.given_by(self._by)
        if any(band.where.again is not None for band in self.treatment.bands):
            person = replace(person, again=self.count > 0)
        return DoseLimits(self.treatment, person)

    @once
    def _by(self) -> str:
        """The route that is meant."""
        return self.route or next(route for route in ROUTES if route in self.treatment.routes)

    @once
    def stocked(self) -> Treatment:
        """The treatment with the strengths that are stocked for this route: a nasal spray is none for a vein."""
        stocks = tuple(each for each in self.treatment.stocks if not each.routes or self._by in each.routes)
        return self.treatment if stocks == self.treatment.stocks else replace(self.treatment, stocks=stocks)

    @once
    def for_patient(self) -> tuple[Stocked, ...]:
        """Those of them that are not barred for this patient."""
        return tuple(one for one in self.stocked.stocks if one not in self._barred)

    @once
    def _barred(self) -> tuple[Stocked, ...]:
        """Those of them that are over a hard limit for this patient."""
        return tuple(one for one in self.stocked.stocks if one.barred and fits(one.barred.where, self.limits.person))

    @property
    def _advised(self) -> tuple[Stocked, ...]:
        """Those that nothing is against for this patient and route; all where something is against each."""
        against = ((one, each) for one in self.for_patient for each in (one.avoid, one.by_order) if each is not None)
        avoided = [one for one, each in against if fits(each.where, self.limits.person)]
        free = (one for one in self.for_patient if one not in avoided)
        return tuple(free) or self.for_patient

    @once
    def interval(self) -> Figure | None:
        """From one dose to the next, for this patient and route."""
        band = self.limits.band("interval")
        return self.treatment.interval if band is None else band.interval

    @once
    def shortest(self) -> Figure | None:
        """In what time it may be given at the fastest; None into a muscle or the nose, and where a push is right."""
        band = self.limits.band("shortest")
        found = self.treatment.shortest if band is None else band.shortest
        return found if found and found.value and self._by in INTO_THE_BLOOD else None

    @once
    def given(self) -> tuple[Dose, ...]:
        """What is kept one by one of it and of those that share its count, oldest first, those given later too."""
        if self._counted.isdisjoint(self.bedside.given):
            return ()
        counts_as = self.bedside.counts_as
        return tuple(dose for dose in self.bedside.all_doses if not self._counted.isdisjoint(counts_as(dose)))

    @once
    def _counted(self) -> frozenset[str]:
        shared = self.treatment.shared
        return frozenset({self.treatment.slug}) | (shared.treatments if shared else frozenset())

    @once
    def count(self) -> int:
        """How many doses are on record for this indication, of it and of those that share its count, all of them."""
        before = (part for slug in self._counted for part in self._given_before(slug))
        return len(self._for_this) + sum(each.count for each in before)

    @once
    def _for_this(self) -> tuple[Dose, ...]:
        """Those of the doses that were given for this indication."""
        return tuple(dose for dose in self.given if self._is_for(dose.treatment, dose.indication))

    def _is_for(self, slug: str, indication: str | None) -> bool:
        """Whether what was given for that counts here; what cannot be told apart does."""
        mine, other = self.treatment.indication, self.bedside.rules.treatments.get(slug)
        known = other.indications if other else {}
        what = earlier.for_what(indication, other)
        return not mine or mine not in known or what not in known or what == mine

    def _given_before(self, slug: str) -> list[GivenBefore | GivenFor]:
        """What of a treatment is only added up, as far as it counts for this indication."""
        found: list[GivenBefore | GivenFor] = []
        for each in self.bedside.before(slug):
            parts = [part for what, part in each.by_indication.items() if self._is_for(slug, what)]
            found += parts if each.by_indication and self.treatment.indication else [each]
        return found

    @once
    def of_class(self) -> tuple[Dose, ...]:
        """What its interval counts, oldest first: all of its class, by name too; without one, what shares its count."""
        mine = self.treatment.drug_class
        if mine == NO_CLASS:
            return self.given
        of_class = self.bedside.rules.of_class[mine]
        return tuple(
            dose
            for dose in self.bedside.all_doses
            if dose.treatment in of_class or dose in self.given or self.bedside.class_of(dose) == mine
        )

    @once
    def before(self) -> tuple[Dose, ...]:
        """What was given of it up to this moment."""
        return tuple(dose for dose in self.given if dose.given_at <= self.bedside.at)

    @property
    def first_at(self) -> datetime | None:
        """When the first dose of it was given, of those that are only added up too; None before any."""
        added_up = self.bedside.before(self.treatment.slug)
        return min((*(each.given_at for each in self.before), *(each.first_at for each in added_up)), default=None)

    @once
    def last(self) -> Dose | None:
        """The newest dose of its class up to this moment."""
        return next((dose for dose in reversed(self.of_class) if dose.given_at <= self.bedside.at), None)

    @once
    def held(self) -> Container | None:
        """The newest syringe of it, or container else, that is in hand at this moment and whose strength is known."""
        return newest_in_hand(self.bedside.facts.containers, self.treatment.slug, self.bedside.at)

    @property
    def by_volume(self) -> bool:
        """Whether its doses are volumes, which no strength makes others of."""
        return units.kind(self.treatment.unit) == "volume"

    @once
    def strengths(self) -> tuple[Strength, ...]:
        """What a dose is drawn from: the syringe in hand (none if too strong), the recipe's, else what is stocked."""
        treatment = self.stocked
        if treatment.form == "infusion":
            return treatment.concentrations
        if self.by_volume:
            return ()
        ready = (treatment.recipe.makes,) if treatment.recipe else self._advised
        if self.held is None or self.held.strength is None:
            return ready
        exact = units.quantity(self.held.strength)
        if any(stock.alike(exact, each.exact) for each in self._barred):
            return ready
        same = tuple(each for each in ready if stock.alike(exact, each.exact))
        if same or stock.recognize(treatment, exact).kind == "stronger":
            return same[:1]
        return (Strength(amount=self.held.strength, source=treatment.source, exact=exact),)

    @once
    def used(self) -> Quantity | None:
        """The total that was given of it for this indication, None where nothing adds up; rates never do."""
        slug = self.treatment.slug
        before = self._given_before(slug)
        if self.treatment.form == "infusion" or not (self._for_this or before):
            return None
        of_it = (dose for dose in self._for_this if slug in self.bedside.counts_as(dose))
        alike = Counter((dose.infused, dose.amount, dose.weight) for dose in of_it)
        doses = ((self.exact_dose(*told), times) for told, times in alike.items())
        sums = (self._weighed(part) for part in earlier.sums(before))
        parts = [*(exact * times for exact, times in doses if exact is not None), *sums]
        known = [part for part in parts if part.units == self._measured and not units.is_per_kg(part)]
        return sum(known[1:], known[0]) if known else None

    def exact_dose(self, infused: Amount | None, stated: Amount | None, weight: Weight | None) -> Quantity | None:
        """What was really given: the volume infused where the treatment is measured by volume, else the dose stated.

        One per kg was given by the weight that was known then.
        """
        if infused is not None and not infused.value:  # none went in
            return self.absolute(Amount(1, self.treatment.unit)) * 0
        then = units.body_weight(weight)
        told = [self.absolute(amount, then) for amount in (infused, stated) if amount is not None]
        return next((exact for exact in told if exact.units == self._measured), told[-1] if told else None)

    @once
    def _measured(self) -> object:
        """The exact unit in which doses of this treatment add up."""
        return self.absolute(Amount(1, self.treatment.unit)).units

    def absolute(self, amount: Amount, weight: Quantity | None = None) -> Quantity:
        """An amount for this patient, of another weight if stated; one per kg stays per kg while nobody knows it."""
        bag = self.treatment.bag
        return self._weighed(in_volume(amount, bag.value if bag else None), weight)

    def _weighed(self, exact: Quantity, weight: Quantity | None = None) -> Quantity:
        weight = self.bedside.person.weight if weight is None else weight
        return exact * weight if weight is not None and units.is_per_kg(exact) else exact

    @once
    def next_at(self) -> datetime | None:
        """From when the next dose may be given, by the newest of its class; None without one or an interval."""
        interval = self.interval
        if interval is None or not self.of_class:
            return None
        return self.of_class[-1].given_at + timedelta(minutes=interval.value)

    @once
    def never_gated(self) -> bool:
        """Whether neither pressure nor weight may hold this back here, as with epinephrine in anaphylaxis."""
        if self.bedside.person.impression in self.treatment.never_gated_in:
            return True
        return any(wants.ungated and self.meets(wants) for wants in self.wants)

    @once
    def of_it_running(self) -> tuple[Dose, ...]:
        """What of this treatment runs, or is held, oldest first."""
        return tuple(dose for dose in self.bedside.still_running if dose.treatment == self.treatment.slug)

    @once
    def held_by_weight(self) -> bool:
        """Whether a limit goes by weight, and a doubtful one may hold this back here."""
        return self.limits.uses_weight() and not self.never_gated

    @once
    def wants(self) -> tuple[Wants, ...]:
        """The signs that it wants of this patient: of those of one measurement and level the last that fits."""
        fitting = [wants for wants in self.treatment.wants if fits(wants.where, self.limits.person)]
        return tuple({(wants.measurement or wants.text, wants.level): wants for wants in fitting}.values())

    def meets(self, wants: Wants) -> bool:
        """Whether a sign that the treatment wants is there; one that was never measured is not."""
        return wanted.meets(self.bedside, wants)

    def find(
        self, code: str, words: str, source: Source | None = None, limit: Amount | None = None, level: str = ""
    ) -> Finding:
        """A finding of this code, at its level unless said otherwise; without a source of its own, the code's."""
        named = source or self.bedside.rules.findings.get(code) or self.treatment.source
        return Finding(code, words, source_text(named), limit, level or level_of(code))

    @once
    def whom(self) -> str:
        """The patient in a sentence: ``an adult of 80 kg``, ``a child of 2 years and unknown weight``."""
        weight = self.bedside.person.weight
        heavy = _("unknown weight") if weight is None else text.amount_text(units.amount(weight, "kg"))
        if self.bedside.person.adult:
            return _("an adult of {heavy}", heavy=heavy)
        return _("a child of {age} and {heavy}", age=age_text(self.bedside.facts.patient.age), heavy=heavy)


def asked_for(at_bedside: Bedside, proposal: Proposal) -> Question:
    """The treatment as it is proposed: for which indication, by which route; raises UnknownIndication."""
    rules, slug = at_bedside.rules, proposal.treatment
    known = rules.treatments[slug].indications
    if proposal.indication is not None and proposal.indication not in known:
        raise UnknownIndication(proposal.indication, tuple(known))
    treatment = rules.treatment(slug, proposal.indication)
    new_rate = proposal.new_rate and at_bedside.runs(slug)
    return Question(bedside=at_bedside, treatment=treatment, route=proposal.route, new_rate=new_rate)
