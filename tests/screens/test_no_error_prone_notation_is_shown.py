"""Every page and every answer of the API, for everybody, under both rule sets: no error-prone notation is shown."""

from __future__ import annotations

import re
from collections.abc import Iterator, Set
from dataclasses import dataclass
from itertools import product
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from consult.actions import containers, demonstration, questions, rule_sets
from consult.management import past_consults
from consult.models import Agency, Alert, Case, Container, Instruction, Intervention, Order, Question, User
from consult.screens.crew_not_sent import PAGES
from dosing.load.reader import load_shipped
from tests.conftest import ADULT, Cast, child, earlier, later, open_consult
from tests.depth import NIGHT, thinned
from tests.error_prone import find, said, seen
from tests.screens.conftest import Sign

PEOPLE = ("osk", "merrin", "averill", "sorrel")
NOT_OURS = (
    "account/",
    "sign-in/",
    "demonstration/",
    "sign-out/",
    "healthz",
    "readyz",
    "metrics",
    "static/",
    "^static/",
)
FOR_PROGRAMMERS = ("api/v1/schema/", "api/v1/docs/", "rules/file/", "rules/schema.json")  # in the codes of the contract
ROWS = {"order_id": Order, "dose_id": Intervention, "container_id": Container}
ROWS |= {"question_id": Question, "instruction_id": Instruction}
PARTS = {"/orders/<": Order, "/interventions/<": Intervention, "/containers/<": Container, "/alerts/<": Alert}
PARTLY = re.compile(r"<(?:\w+:)?(\w+)>")


def addresses(patterns: list[URLPattern | URLResolver], before: str = "") -> Iterator[str]:
    """Every address there is, with its placeholders such as ``cases/<id>/``."""
    for pattern in patterns:
        here = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from addresses(pattern.url_patterns, here)
        elif here and not here.startswith((*NOT_OURS, *FOR_PROGRAMMERS)) and here != "api/v1/":
            yield PARTLY.sub(r"<\1>", here)
    if not before:
        yield ""


ADDRESSES = sorted(set(addresses(get_resolver().url_patterns)))


@dataclass(frozen=True)
class Places:
    """What stands for the placeholders of an address, for one case."""

    case: Case
    treatments: tuple[str, ...] = tuple(sorted(load_shipped("demonstration").treatments))

    def fill(self, address: str) -> Iterator[str]:
        names = PARTLY.findall(address)
        for values in product(*(self._of(name, address) for name in names)):
            filled = address
            for name, value in zip(names, values, strict=True):
                filled = filled.replace(f"<{name}>", value)
            yield f"/{filled}"

    def _of(self, name: str, address: str) -> list[str]:
        if name in ("treatment", "slug"):
            return list(self.treatments)
        if name == "page":
            return list(PAGES)
        if name == "seq":
            return [str(self.case.seq // 2), str(self.case.seq)]
        of_case = ROWS.get(name) or next((rows for part, rows in PARTS.items() if part in address), None)
        if of_case is None or name == "case_id":
            assert name in ("id", "case_id"), f"{address}: say what stands for <{name}>"
            return [str(self.case.uid)]
        rows = of_case.objects.filter(case=self.case)
        rows = rows.filter(status="running") if "/change/" in address else rows  # what has ended has no such page
        return [str(uid) for uid in rows.values_list("uid", flat=True)]


def faults_on(client: Client, places: list[Places], read: Set[str] = frozenset()) -> tuple[list[str], set[str]]:
    """What is found on all pages that this person may open, and the addresses that answered.

    What tells everybody the same, and somebody has ``read``, is by day not asked for again.
    """
    found, opened = [], set()
    for number, address in enumerate(ADDRESSES):
        if address in read and address.startswith(("api/", "rules/", "history/")) and not NIGHT:
            continue
        paths = sorted({path for place in places for path in place.fill(address)})
        for path in thinned(paths, every=max(1, len(paths)), first=number):
            answer = client.get(path)
            if answer.status_code != 200:
                continue
            opened.add(address)
            found += [f"{path}: {fault}" for text in texts(answer) for fault in find(text)]
    return found, opened


def texts(answer: Any) -> Iterator[str]:
    kind = answer["Content-Type"]
    if "json" in kind:
        yield from said(answer.json())
    elif "html" in kind:
        yield from seen(answer.content.decode())
    elif "javascript" not in kind:  # a program's own words are no text
        yield answer.content.decode()


def troubled(cast: Cast) -> Case:
    """A case in which everything happens: doses of every treatment, too much, too soon; orders, a mismatch, alerts."""
    consult = open_consult(cast, {**ADULT, "allergies": ["sulfite"], "injuries": ["torso"]}, impression="hemorrhagic")
    rules = load_shipped("demonstration")
    consult.vitals(
        at=earlier(minutes=12), sbp=72, dbp=41, hr=128, spo2=88, lactate_mmol_l=4.05, temp_c=35.25, lungs="crackles"
    )
    for minute, treatment in enumerate(rules.treatments.values()):
        unit = "units/min" if treatment.slug.startswith("vasopressin") else treatment.unit
        status = "running" if treatment.form == "infusion" else "given"
        strength = {"concentration": amount(treatment.concentrations[0].amount)} if status == "running" else {}
        route = min(treatment.routes - {"IN"})
        at = earlier(minutes=11, seconds=-minute)
        consult.give(
            treatment.slug, 1234.5 if unit == "mL" else 1.05, unit, at=at, route=route, status=status, **strength
        )
    consult.give("naloxone", 2, "mg", at=earlier(minutes=9), route="IN")
    consult.give("epinephrine-push-dose", 1250.5, "mcg", at=earlier(minutes=8))
    consult.give("other", 1, "g", at=earlier(minutes=7), name="cefazolin", amount_text="2 g")
    consult.vitals(at=earlier(minutes=2), sbp=68, dbp=40, hr=131)
    held = {"form": "syringe", "treatment": "epinephrine-push-dose", "at": earlier(minutes=13)}
    mixed = {**held, "id": uuid4(), "strength": {"value": 10, "unit": "mcg/mL"}, "volume": {"value": 10, "unit": "mL"}}
    containers.record_container(cast.osk, consult.uid, mixed, earlier(minutes=13))
    consult.ask(35.5, at=later(minutes=1), repeat={"times": 3, "every_min": 2.5})
    consult.ask(0.04, "mg", at=later(minutes=1))
    form = {"minutes": 32.5, "rhythm": "asystole", "etco2": 8.5, "criteria": ["no-shock"]}
    for each in ({"topic": "advice"}, {"topic": "end_resuscitation", "form": form}):
        questions.ask(cast.osk, consult.uid, {"id": uuid4(), "text": "Go on?", **each}, later(minutes=1))
    questions.instruct(cast.merrin, consult.uid, {"id": uuid4(), "text": "Sit her up."}, later(minutes=1))
    return consult.row


def amount(stated: Any) -> dict[str, Any]:
    return {"value": stated.value, "unit": stated.unit}


def small(cast: Cast) -> Case:
    """A small child of guessed weight."""
    patient = child(0.5, 6.25)
    consult = open_consult(cast, {**patient, "weight": {**patient["weight"], "basis": "length"}})
    consult.vitals(sbp=58, dbp=30, hr=190)
    consult.give("crystalloid-bolus", 62.5, "mL")
    return consult.row


@pytest.mark.parametrize(
    ("rules", "people"), [("demonstration", PEOPLE), *([("conservative", PEOPLE[:2])] if NIGHT else [])]
)
def test_pages_and_answers_of_a_case_in_which_everything_happens(
    cast: Cast, signed_in: Sign, rules: str, people: tuple[str, ...]
) -> None:
    Agency.objects.filter(pk=cast.osk.agency).update(rule_set=rule_sets.shipped(rules))
    places = [Places(troubled(cast)), Places(small(cast), ("crystalloid-bolus", "epinephrine-push-dose"))]
    everything: set[str] = set()

    for name in people:
        found, opened = faults_on(signed_in(name), places, everything)
        assert found == []
        everything |= opened

    readable = {address for address in ADDRESSES if any(True for place in places for _path in place.fill(address))}
    assert len(everything) > 30
    if people != PEOPLE:
        return
    assert {address for address in readable if address.startswith(("crew/", "cases/", "history/"))} <= everything


def test_pages_and_answers_of_the_demonstrations_past(db: None) -> None:
    from consult import clock

    now = clock.now()
    demonstration.make_accounts(now)
    past_consults.play_all(now)
    for number, user in enumerate(User.objects.filter(username__in=("osk", "averill") if NIGHT else ("averill",))):
        cases = thinned(Case.objects.order_by("opened_at"), every=4, first=number)
        places = [Places(case, ("epinephrine-push-dose",)) for case in cases]
        client = Client()
        client.force_login(user)
        assert faults_on(client, places)[0] == []
