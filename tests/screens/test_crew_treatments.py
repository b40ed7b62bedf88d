"""What a crew may give: limits as limits, never as advice; what no sign calls for stands apart, with its reason."""

from __future__ import annotations

import re
from typing import Any

import pytest

from consult.actions import cases
from tests.conftest import ADULT, NOON, Cast, Consult, open_consult
from tests.screens.conftest import Sign
from tests.screens.test_crew_orders import page_of

pytestmark = pytest.mark.django_db

SLOW = "atropine for a slow heart"


def groups_of(signed_in: Sign, consult: Consult) -> dict[str, str]:
    """The parts of what may be given, by their headings."""
    groups = page_of(signed_in, consult, "give/").every("group")
    return {group.one("h2").text: group.text for group in groups}


class TestGuidance:
    def test_it_is_headed_as_limits_and_names_last_pressure(self, consult: Consult, signed_in: Sign):
        consult.vitals(sbp=74, dbp=44, bp_method="cuff")

        page = page_of(signed_in, consult, "give/")

        assert page.one("h1").text == "Standing limits, not advice"
        assert page.one("last").text.startswith("54 MAP mmHg")

    def test_without_a_weight_the_way_to_enter_it_stands_first(self, cast: Cast, consult: Consult, signed_in: Sign):
        unweighed = open_consult(cast, patient={key: value for key, value in ADULT.items() if key != "weight"})

        assert page_of(signed_in, unweighed, "give/").one(id="no-weight").attributes["href"].endswith("/patient/")
        assert not page_of(signed_in, consult, "give/").every(id="no-weight")

    def test_an_interval_that_is_over_is_told_only_of_what_was_given(self, consult: Consult, signed_in: Sign):
        """The interval counts over the class, so that phenylephrine waits after epinephrine, too."""
        consult.vitals(sbp=80, dbp=40)
        consult.give("epinephrine-push-dose", 10, "mcg")

        rows = page_of(signed_in, consult, "give/").every("row")
        told = {row.one("b").text: row.one("small").attributes for row in rows if "push dose" in row.text}
        assert told["EPINEPHrine push dose"]["data-ends"] == told["phenylephrine push dose"]["data-ends"]
        assert told["EPINEPHrine push dose"]["data-after"] == "interval passed"
        assert told["phenylephrine push dose"]["data-after"] == ""

    def test_what_is_not_allowed_now_does_not_stand_among_what_is(
        self, consult: Consult, signed_in: Sign, at_noon: None
    ):
        """An interval that runs, or a pressure never taken, holds a dose back: no heading says it is allowed."""
        before = groups_of(signed_in, consult)
        assert "EPINEPHrine push dose" in before["Not yet: wait, or measure first"]

        consult.vitals(sbp=74, dbp=44)
        assert (
            "EPINEPHrine push dose" in groups_of(signed_in, consult)["Within the standing limits, for this impression"]
        )
        consult.give("epinephrine-push-dose", 10, "mcg")

        after = groups_of(signed_in, consult)
        for name in ("EPINEPHrine push dose", "phenylephrine push dose"):
            assert name in after["Not yet: wait, or measure first"]
        assert not any("not before" in text for title, text in after.items() if title.startswith("Within"))

    def test_what_starts_by_order_stands_apart(self, consult: Consult, signed_in: Sign):
        groups = page_of(signed_in, consult, "give/").every("group")

        by_order = next(group for group in groups if group.one("h2").text == "By order, for this impression")
        assert "norepinephrine infusion" in by_order.text
        within = next(
            group for group in groups if group.one("h2").text.startswith("Within the standing limits, for this")
        )
        assert "crystalloid bolus" in within.text
        assert "infusion" not in within.text

    @pytest.mark.parametrize(
        ("told", "heading"),
        [
            ({"sex": "unknown"}, "Needs a pregnancy or birth on record"),
            ({"sex": "female", "pregnancy_weeks": 0}, "Needs a pregnancy or birth on record"),
            ({"sex": "male"}, "Not for this patient now"),
            ({"bleeding_cause": "postpartum"}, "By order, for this impression"),
        ],
    )
    def test_what_is_for_mothers_stands_apart_until_one_is_recorded(
        self, told: dict[str, Any], heading: str, consult: Consult, signed_in: Sign
    ):
        cases.patch_case(consult.cast.osk, consult.uid, {"patient": told}, NOON)
        groups = groups_of(signed_in, consult)

        assert [title for title, text in groups.items() if "oxytocin after birth" in text] == [heading]
        assert ("record the week, or bleeding after birth, under Patient" in groups[heading]) is ("By" not in heading)

    @pytest.mark.parametrize(
        ("treatment", "vitals", "reason"),
        [
            (
                "atropine for a slow heart",
                {"hr": 119},
                "heart rate is not slow: atropine drives it on (119 beats per min; wanted under 100)",
            ),
            ("dextrose", {"glucose_mg_dl": 104}, "glucose is not low (104 mg/dL; wanted under 60)"),
            ("naloxone", {"rr": 18}, "breathing is not slow (18 breaths per min; wanted under 12)"),
            ("ketamine for pain", {"sbp": 90, "dbp": 45}, "ketamine can lower it further"),
        ],
    )
    def test_what_the_signs_speak_against_stands_last_with_its_reason(
        self, treatment: str, vitals: dict[str, Any], reason: str, consult: Consult, signed_in: Sign, at_noon: None
    ):
        """Whatever the standing limits would allow: a tired reader takes what is listed as allowed for sensible."""
        consult.vitals(**{"hr": 80, "rr": 16, "sbp": 120, "dbp": 80, "glucose_mg_dl": 100, **vitals})

        *others, last = page_of(signed_in, consult, "give/").every("group")[:-1]  # the last leads to what is not listed

        assert last.one("h2").text == "Not indicated now"
        (row,) = (row for row in last.every("row") if row.text.startswith(treatment))
        assert reason in row.text
        assert not any(row.text.startswith(treatment) for group in others for row in group.every("row"))

    @pytest.mark.parametrize(
        ("heart_rate", "group"), [(38, "Within the standing limits, for this"), (119, "Not indicated")]
    )
    def test_once_its_sign_is_there_it_fits(
        self, heart_rate: int, group: str, consult: Consult, signed_in: Sign, at_noon: None
    ):
        consult.vitals(hr=heart_rate, sbp=120, dbp=80)

        (found,) = (each for each in page_of(signed_in, consult, "give/").every("group") if SLOW in each.text)

        assert found.one("h2").text.startswith(group)

    def test_what_must_not_be_given_is_told_without_an_amount(self, consult: Consult, signed_in: Sign, at_noon: None):
        """A low pressure: no vasodilator, whoever orders."""
        consult.vitals(hr=80, sbp=80, dbp=40)

        held = groups_of(signed_in, consult)["Not for this patient now"]
        page = page_of(signed_in, consult, "give/labetalol/").text

        assert "pressure is low: labetalol lowers it further" in held
        assert not re.search(r"labetalol for [^:]*?\d+ mg", held)
        assert "not for this patient now: pressure is low: labetalol lowers it further" in page
        assert "Dose Unit mg" in page  # no amount stands between

    def test_a_dose_of_an_arrest_is_no_order_away_from_a_patient_with_a_pulse(
        self, consult: Consult, signed_in: Sign, at_noon: None
    ):
        consult.vitals(sbp=80, dbp=40)
        groups = groups_of(signed_in, consult)

        assert "in cardiac arrest" not in groups["By order, for other impressions"]
        assert "EPINEPHrine in cardiac arrest" in groups["Not for this patient now"]

    def test_the_least_time_of_giving_stands_with_the_limits(self, consult: Consult, signed_in: Sign, at_noon: None):
        consult.vitals(sbp=80, dbp=40)

        told = " ".join(groups_of(signed_in, consult).values())

        assert "tranexamic acid up to 1 g = up to 10 mL over at least 10 min" in told

    def test_epinephrine_for_anaphylaxis_is_never_folded_away(self, consult: Consult, signed_in: Sign, at_noon: None):
        """Nobody may have told the impression yet."""
        consult.vitals(sbp=80, dbp=40)

        groups = page_of(signed_in, consult, "give/").every("group")
        stands = {group.one("h2").text: group.name for group in groups if "EPINEPHrine IM" in group.text}
        folded = {group.one("h2").text for group in groups if group.name == "details"}

        assert stands == {"Within the standing limits, for other impressions": "section"}
        assert {"More within the standing limits", "By order, for other impressions"} <= folded

    def test_a_finding_is_shown_with_its_treatment(self, cast: Any, signed_in: Sign):
        consult = open_consult(cast, {**ADULT, "allergies": ["sulfite"]})

        rows = page_of(signed_in, consult, "give/").every("row")

        epinephrine = next(row for row in rows if row.text.startswith("EPINEPHrine push dose"))
        assert "sulfite" in epinephrine.text

    def test_nothing_reads_as_advice(self, consult: Consult, signed_in: Sign):
        text = page_of(signed_in, consult, "give/").text

        assert not re.search(r"\b(recommend|suggest|should give|consider giving)", text, re.IGNORECASE)
