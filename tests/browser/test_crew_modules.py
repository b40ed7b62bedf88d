"""The small parts of the crew's pages by themselves: what is said, how entries travel, how numbers are rounded."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any
from uuid import UUID

import pytest
from playwright.sync_api import Page

from consult.screens.crew_choices import VITALS_CHOICES
from consult.screens.listed import listed
from dosing.ground.exact import shown
from dosing.load.reader import load_shipped
from dosing.patient.unlikely import bounds, unlikely
from dosing.rules import names as names_of
from tests.browser.conftest import SignIn
from tests.dosing.cast import ADA, reading

Ask = Callable[[str, str, list[Any]], list[Any]]


@pytest.fixture
def ask(sign_in: SignIn) -> Ask:
    """Call one function of a module with each of several lists of arguments."""
    page: Page = sign_in("osk", "/static/core/send.js")  # any of this server: modules need no page around them

    def call(module: str, function: str, calls: list[Any]) -> list[Any]:
        script = f"""async (calls) => {{
          const module = await import("/static/{module}");
          return calls.map((each) => module.{function}(...each));
        }}"""
        answers: list[Any] = page.evaluate(script, calls)
        return answers

    return call


def state(
    linked: bool = True, signed_out: bool = False, waiting: int = 0, refused: int = 0, held: int = 0
) -> list[dict[str, Any]]:
    return [{"linked": linked, "signedOut": signed_out, "waiting": waiting, "refused": refused, "heldMs": held}]


LINK_LINES = (
    (state(), "live", "All sent"),
    (state(waiting=1), "live", "Sending 1"),
    (state(linked=False), "lost", "Offline: 0 waiting"),
    (state(linked=False, waiting=3), "lost", "Offline: 3 waiting"),
    (state(linked=False, waiting=1, refused=1), "lost", "Offline: 1 waiting · 1 not accepted"),
    (state(refused=2), "live", "2 not accepted"),
    (state(waiting=3, held=12_000), "live", "Too much at once: 3 waiting, sent again in 12 s"),
    (state(held=12_000), "live", "All sent"),
    (state(signed_out=True, waiting=2), "lost", "Signed out: sign in to send 2"),
)


TOLD = (
    *("Adrénaline 1:1,000", "epi", "nor-epinephrine", "LEVOPHED drip", "epinephrine1mg", "plasma-lyte", "calcium"),
    *("ketamine and Versed", "sufentanil", "hypertonic saline", "vitamin D 50", "D50", "–", ""),
)


def test_a_page_finds_the_drugs_that_a_name_names_as_the_server_does(ask: Ask):
    rules = load_shipped("demonstration")
    names = [*TOLD, *(name for each in rules.names for name in each.names)]

    told = ask("core/names.js", "named", [[name, listed(rules)] for name in names])

    found = [names_of.named(name, rules) for name in names]
    assert [each and each["drugs"] for each in told] == [each and list(each.drugs) for each in found]
    slugs = [each and [one["slug"] for one in each["treatments"]] for each in told]
    assert slugs == [each and [one.slug for one in each.treatments] for each in found]


def test_the_link_line_says_what_waits(ask: Ask):
    told = ask("crew/link.js", "linkLine", [arguments for arguments, _, _ in LINK_LINES])

    assert told == [[kind, text] for _, kind, text in LINK_LINES]


def test_rounding_hides_a_threshold_no_more_than_the_servers(ask: Ask):
    """Each third of a mmHg from 50 to 110 beside the limits of an adult, as the server rounds it."""
    thirds = range(150, 330)
    below, above = (60, 65, 80), (100,)

    told = ask("crew/pressure.js", "safelyRounded", [[third / 3, below, above] for third in thirds])

    assert told == [shown(Fraction(third, 3), below=below, above=above) for third in thirds]


def entry(kind: str, **more: Any) -> dict[str, Any]:
    return {"id": "e", "kind": kind, "case": "c", "target": "t", "data": {"text": "x"}, **more}


ROUTES = {
    "case": "cases/",
    "patch": "cases/c/",
    "vitals": "cases/c/vitals/",
    "intervention": "cases/c/interventions/",
    "change": "interventions/t/changes/",
    "procedure": "cases/c/procedures/",
    "note": "cases/c/notes/",
    "correction": "cases/c/corrections/",
    "order": "cases/c/orders/",
    "readback": "orders/t/readback/",
    "not_given": "orders/t/not_given/",
    "withdraw": "orders/t/withdraw/",
    "container": "cases/c/containers/",
    "discard": "containers/t/discard/",
    "handover": "cases/c/handover/",
    "close": "cases/c/close/",
}
NAMED = {
    "change": "intervention",
    "discard": "container",
    "readback": "order",
    "not_given": "order",
    "withdraw": "order",
}


def test_each_kind_goes_to_its_own_address_of_the_contract(ask: Ask):
    told = ask("crew/deliver.js", "routeOf", [[entry(kind)] for kind in ROUTES])

    assert told == [f"/api/v1/{path}" for path in ROUTES.values()]


def test_in_a_batch_an_entry_names_its_kind_its_case_and_what_it_is_about(ask: Ask):
    told = ask("crew/deliver.js", "batched", [[entry(kind)] for kind in ROUTES])

    for kind, sent in zip(ROUTES, told, strict=True):
        assert (sent["kind"], sent["id"], sent["text"]) == (kind, "e", "x")
        assert sent.get("case") == (None if kind == "case" else "c")
        assert {name: sent.get(name) for name in ("intervention", "order")} == {
            name: "t" if NAMED.get(kind) == name else None for name in ("intervention", "order")
        }


def many(kinds: list[str], size: int = 1) -> list[dict[str, Any]]:
    return [entry(kind, data={"text": "x" * size}) for kind in kinds]


RUNS = (
    pytest.param(["vitals", "note"], 1, 2, id="all together"),
    pytest.param(["vitals", "handover", "note"], 1, 3, id="a handover among them"),
    pytest.param(["note"] * 250, 1, 200, id="at most 200"),
    pytest.param(["note"] * 100, 5000, 38, id="at most 200 KiB"),
    pytest.param(["note"], 300_000, 1, id="the first goes whatever its size"),
)


def test_the_oldest_travel_together_as_far_as_a_batch_takes_them(ask: Ask):
    calls = [[many(*each.values[:2])] for each in RUNS]

    assert [len(run) for run in ask("crew/deliver.js", "firstRun", calls)] == [each.values[2] for each in RUNS]


SENTENCES = (
    (
        {"detail": "Not valid.", "errors": [{"pointer": "/sbp", "detail": "Must be from 20 to 300.", "code": "x"}]},
        "Must be from 20 to 300. (systolic)",
    ),
    (
        {"errors": [{"pointer": "/patient/weight/value", "detail": "A number is needed.", "code": "x"}]},
        "A number is needed. (patient weight)",
    ),
    ({"title": "Wrong", "detail": "The case is closed."}, "The case is closed."),
    ({"title": "Your role may not do this."}, "Your role may not do this."),
    (None, "The server did not accept it (418)."),
)


def test_a_problem_becomes_one_sentence_that_names_the_field(ask: Ask):
    told = ask("core/send.js", "sentence", [[problem, 418, True] for problem, _ in SENTENCES])

    assert told == [sentence for _, sentence in SENTENCES]


def test_ids_are_version_7_in_the_order_in_which_they_were_made(ask: Ask):
    made = ask("core/send.js", "newId", [[1_900_000_000_000 + moment] for moment in range(50)])

    assert {UUID(each).version for each in made} == {7}
    assert {UUID(each).variant for each in made} == {UUID(made[0]).variant}
    assert made == sorted(made)
    assert len(set(ask("core/send.js", "newId", [[1_900_000_000_000]] * 200))) == 200


LENGTHS = (
    (-1000, "0 s"),
    (0, "0 s"),
    (40_999, "40 s"),
    (60_000, "1 min"),
    (3_599_000, "59 min"),
    (3_900_000, "1 h 05 min"),
)
COUNTDOWNS = ((110_000, "1:50"), (1, "0:01"), (0, "0:00"), (-42_000, "late by 0:42"), (-600_000, "late by 10:00"))


def test_lengths_of_time_and_countdowns_are_written_as_the_screens_write_them(ask: Ask):
    assert ask("core/times.js", "lengthText", [[ms] for ms, _ in LENGTHS]) == [text for _, text in LENGTHS]
    assert ask("core/times.js", "dueText", [[ms] for ms, _ in COUNTDOWNS]) == [text for _, text in COUNTDOWNS]


def test_clock_times_stand_in_the_zone_of_the_page(ask: Ask):
    texts = ("2030-01-05T03:14:20Z", "2030-01-05T04:14:20+01:00")
    assert ask("core/times.js", "clockText", [[text, True, text] for text in texts]) == ["03:14:20"] * 2


READINGS = (
    ({"sbp": 74, "dbp": 44, "bp_method": "cuff", "hr": 128}, "74/44 mmHg, HR 128"),
    ({"sbp": 92, "bp_method": "palpated"}, "92/P mmHg"),
    ({"bp_method": "unobtainable", "pulses": "carotid"}, "no pressure obtainable, carotid pulse"),
    ({"bp_method": "unobtainable", "pulses": "none"}, "no pressure obtainable, no pulse"),
    ({"sbp": 88, "dbp": 50, "bp_method": "arterial"}, "88/50 mmHg by arterial line"),
    ({"spo2": 92, "rr": 28}, "SpO2 92, RR 28"),
    ({"glucose_mg_dl": 38}, "glucose 38 mg/dL"),
    ({"glucose_mmol_l": 3.1}, "glucose 3.1 mmol/L"),
    ({"glucose_flag": "low"}, "glucose meter: low"),
    ({"cap_refill_s": 4, "avpu": "V", "lungs": "crackles"}, "refill 4 s, responds to voice, lungs crackles"),
    ({"gcs": 9, "temp_c": 38.9, "lactate_mmol_l": 3.1}, "GCS 9, temp 38.9 °C, lactate 3.1 mmol/L"),
    ({"hb_g_dl": 7.5, "oxygen_l_min": 15, "rhythm": "sinus"}, "hemoglobin 7.5 g/dL, oxygen 15 L/min, rhythm sinus"),
    ({"map_reported": 54, "etco2": 30}, "monitor MAP 54, EtCO2 30"),
    ({"sbp": 74, "dbp": 44, "hr": 128, "pupils": "equal", "taken_at": "x"}, "74/44 mmHg, HR 128, pupils equal"),
)


def test_every_value_of_a_set_of_vitals_is_named(ask: Ask):
    said = VITALS_CHOICES["measurements"]
    told = ask("crew/vitals.js", "vitalsText", [[reading, said] for reading, _ in READINGS])

    assert told == [text for _, text in READINGS]


SETS: list[dict[str, Any]] = [
    {"hr": 80, "sbp": 120, "dbp": 80, "spo2": 97, "avpu": "A"},
    *({"hr": value} for value in (19, 20, 220, 221)),
    *({"spo2": value} for value in (9, 49, 50, 100)),
    *({"glucose_mmol_l": value} for value in (1.1, 1.2, 33.3, 33.4)),
    *({"sbp": 200, "dbp": value} for value in (40, 50, 160, 190, 191)),
    *({"sbp": 95, "dbp": 50, "map_reported": value} for value in (54, 55, 75, 76)),
    {"sbp": 90, "dbp": 60, "hr": 0},
]


def test_a_page_asks_about_the_sets_about_which_the_server_would_ask(ask: Ask):
    known = [list(each) for each in VITALS_CHOICES["measurements"]]  # type: ignore[attr-defined]
    asked = ask("crew/unlikely.js", "unlikely", [[each, bounds(), known] for each in SETS])

    assert [bool(texts) for texts in asked] == [bool(unlikely(reading(**each), ADA)) for each in SETS]


MOST = [300, 200, 350, 100, 250, 120]  # of the fields in their order, by the contract


@pytest.mark.parametrize(
    ("digits", "asked"),
    [
        ("744411894", False),  # 74/44, 118, 94 as it is meant, though the 4 of 44 follows one of 74
        ("885212893", False),
        ("12080", False),
        ("888", True),
        ("88852", True),
        ("92258118", True),
        ("922588694", True),  # else 92/25, 88, 69 and a breathing rate of 4
        ("7444118894", True),
        ("88352", True),  # any digit, where the last number is not whole
    ],
)
def test_a_digit_too_many_is_asked_where_the_others_make_whole_numbers(ask: Ask, digits: str, asked: bool):
    assert ask("crew/surplus.js", "hasSurplus", [[digits, MOST]]) == [asked]
