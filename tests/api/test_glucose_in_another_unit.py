"""A glucose sent in mmol/L is kept as it was sent; rules, alarms and cards know it in mg/dL (contract, "Vitals")."""

import pytest

from consult.actions import cards
from consult.models import Case, Vitals
from tests.api.conftest import ago, new_id, refused, vitals
from tests.api.story import Story, codes

LOW = {"sbp": 40, "dbp": 20, "lungs": "clear"}
SUGAR = ("dextrose", "10 g")


def glucose(story):
    return story.card()["vitals"].get("glucose_mg_dl", {}).get("value")


@pytest.fixture
def story(cast, monkeypatch):
    return Story(cast, monkeypatch)


@pytest.fixture
def told(story):
    """A case with a usual glucose, and 3.1 mmol/L (55.8 mg/dL) three minutes later."""
    story.open().read(at=-3, glucose_mg_dl=110, **LOW)
    story.set = story.read(glucose_mmol_l=3.1)
    return story


def test_the_answer_and_the_row_keep_what_was_sent(told):
    row = Vitals.objects.get(uid=told.set["id"])

    assert (told.set["glucose_mmol_l"], "glucose_mg_dl" in told.set) == (3.1, False)
    assert (row.data["glucose_mmol_l"], "glucose_mg_dl" in row.data) == (3.1, False)
    lines = told.physician.get(f"cases/{told.case}/journal/").json()["results"]
    assert [line["data"]["values"] for line in lines if line["data"].get("id") == told.set["id"]] == [
        {"glucose_mmol_l": 3.1}
    ]


def test_card_and_rules_know_it_in_mg_dl(told):
    """55.8 mg/dL is under the 60 from which dextrose is for."""
    assert glucose(told) == 55.8
    assert "glucose_mmol_l" not in told.card()["vitals"]
    assert told.guidance()["dextrose"]["relevant"]
    assert "signs_missing" not in codes(told.check(*SUGAR, stock="100 mg/mL"))


@pytest.mark.parametrize(
    ("mmol_l", "alarms", "relevant"),
    [(2.9, True, True), (3, False, True), (3.3, False, True), (3.4, False, False), (6, False, False)],
)
def test_a_low_one_alarms_and_is_treated_from_the_same_value_on(story, mmol_l, alarms, relevant):
    """2.9 is 52.2 mg/dL, 3 is 54 (danger is under 54), 3.3 is 59.4, 3.4 is 61.2 (dextrose is for under 60)."""
    story.open().read(glucose_mmol_l=mmol_l, **LOW)
    causes = {alert["cause"] for alert in story.card()["alerts"] if alert["kind"] == "vital_sign"}

    assert ("glucose_mg_dl" in causes, story.guidance()["dextrose"]["relevant"]) == (alarms, relevant)


def test_two_warnings_in_a_row_may_be_in_two_units(story):
    """54 and 55 mg/dL are warnings; the second in a row raises the alert, in whichever unit it is told."""
    story.open().read(at=-2, glucose_mg_dl=55)
    assert not [alert for alert in story.card()["alerts"] if alert["kind"] == "vital_sign"]
    story.read(glucose_mmol_l=3)

    assert [alert["cause"] for alert in story.card()["alerts"] if alert["kind"] == "vital_sign"] == ["glucose_mg_dl"]


@pytest.mark.parametrize(
    ("who", "low", "fine"), [("58 y 80 kg", 3.3, 3.4), ("9 d 3 kg", 2.6, 2.7)], ids=["an adult", "a newborn"]
)
def test_a_warning_begins_where_its_number_does_between_whole_mg_dl_too(story, who, low, fine):
    """Adults: under 60, 3.3 is 59.4 and 3.4 is 61.2. Newborns: under 47, 2.6 is 46.8 and 2.7 is 48.6."""
    for value, alarms in ((low, True), (fine, False)):
        story.open(who, opened=-5)
        for minute in (-4, -2):
            story.read(at=minute, glucose_mmol_l=value)
        assert any(alert["cause"] == "glucose_mg_dl" for alert in story.card()["alerts"]) == alarms


def test_one_in_error_counts_for_nothing_and_the_one_before_holds_again(told):
    told.correct("vitals", told.set)
    assert (glucose(told), told.guidance()["dextrose"]["relevant"]) == (110, False)
    later = told.at(1).read(glucose_mg_dl=120)
    told.correct("vitals", later)
    assert glucose(told) == 110


def test_taking_back_a_later_set_brings_one_in_mmol_back_in_mg_dl(told):
    """What comes back is read from its row, and is what the journal says."""
    told.correct("vitals", told.at(1).read(glucose_mg_dl=120))

    assert glucose(told) == 55.8
    assert cards.faults(Case.objects.get(uid=told.case)) == []


def test_both_units_at_once_are_refused_at_the_second(cast, case):
    answer = cast.crew.post(f"cases/{case}/vitals/", vitals(glucose_mg_dl=72, glucose_mmol_l=4))

    assert [error["pointer"] for error in refused(answer, 422)["errors"]] == ["/glucose_mmol_l"]


def test_in_a_batch_it_is_the_same_and_a_bad_one_stands_alone(cast, case):
    entries = [
        {"kind": "vitals", "case": case, **vitals(glucose_mg_dl=72, glucose_mmol_l=4)},
        {"kind": "vitals", "case": case, **vitals(glucose_mmol_l=4)},
        {"kind": "note", "case": case, "id": new_id(), "text": "sweating"},
    ]
    answer = cast.crew.post("batch/", {"sent_at": ago(seconds=0), "entries": entries}).json()

    assert [each["status"] for each in answer["results"]] == [422, 201, 201]
    assert cast.physician.get(f"cases/{case}/").json()["vitals"]["glucose_mg_dl"]["value"] == 72


def test_the_schema_names_it_with_its_range(cast):
    schema = cast.crew.get("schema/?format=json").json()
    field = schema["components"]["schemas"]["VitalsEntry"]["properties"]["glucose_mmol_l"]

    assert "mmol/L" in field["description"]
    assert {"type": "number", "minimum": 0.3, "maximum": 111} in field["oneOf"]
