"""What others gave before the crew came, through the API: it counts and raises nothing; a pressor that runs on asks."""

import pytest

from tests.api.story import Story, codes, minute
from tests.api.worked import amount

PUSH, DRIP = "epinephrine-push-dose", "norepinephrine-infusion"
BY = ("hospital", "bystander", "patient", "other_crew")  # contract: "prior_by"


@pytest.fixture
def story(cast, monkeypatch):
    return Story(cast, monkeypatch)


# Far over the hard limit of each, so that a dose of the crew's own would raise an alert.
EXCESSIVE = {
    "crystalloid-bolus": "2500 mL",
    "epinephrine-push-dose": "200 mcg",
    "phenylephrine-push-dose": "600 mcg",
    "epinephrine-im": "1 mg",
    "epinephrine-infusion": "3 mcg/kg/min",
    "norepinephrine-infusion": "2 mcg/kg/min",
    "dopamine-infusion": "30 mcg/kg/min",
    "phenylephrine-infusion": "7 mcg/kg/min",
    "vasopressin-infusion": "0.1 units/min",
    "blood-product": "3 bag",
    "tranexamic-acid": "3 g",
    "calcium-chloride": "3 g",
    "calcium-gluconate": "7 g",
    "hydrocortisone": "200 mg",
    "atropine": "2 mg",
    "dextrose": "60 g",
    "naloxone": "12 mg",
    "ketamine": "200 mg",
    "fentanyl": "300 mcg",
    "midazolam": "6 mg",
}


def test_whatever_others_gave_raises_nothing_and_only_running_pressors_ask(story, cast):
    """Contract: "counts in totals, raises nothing but a running pressor's reassessment"."""
    story.open()
    for place, (treatment, dose) in enumerate(EXCESSIVE.items()):
        by, status = BY[place % len(BY)], "running" if "infusion" in treatment else "given"
        given = story.give(treatment, dose, at=-30 + place, prior=True, prior_by=by, status=status)
        assert (given["reassessment"] is not None, given["prior_by"]) == (status == "running", by)
        assert "above_hard_limit" in codes(given["check"]), treatment
    for passed in (10, 20, 30):
        story.at(passed).read(etco2=35)
    card = story.card()

    pressors = {dose["id"] for dose in card["running"]}
    assert {asked["intervention"] for asked in card["reassessments"]} == pressors
    kinds = {alert["kind"] for alert in card["alerts"]} - {"not_accepted"}
    assert (kinds, card["responses"]) == ({"reassessment_overdue"}, [])
    assert {line["treatment"]: line["count"] for line in card["given"]} == dict.fromkeys(EXCESSIVE, 1)
    assert {dose["treatment"] for dose in card["running"]} == {name for name in EXCESSIVE if "infusion" in name}
    assert (card["fluids"]["total_ml"], card["fluids"]["boluses"]) == (2500, 1)
    assert cast.supervisor.get("history/?outside_limits=true").json()["results"] == []


# Patient; what others gave; the crew's dose that is still within count and total; what others gave besides; the dose
# that passes them, with its finding. Rules, column "count, total -> order": 5 pushes or 100 mcg, 3 full boluses or
# 90 mL/kg to 3,000 mL, a child above 40 mL/kg a caution and above 60 an order, ...
USED_UP = [
    ("58 y 80 kg", PUSH, ["10 mcg"] * 4, "10 mcg", ["10 mcg"], "10 mcg", "count_reached"),
    ("58 y 80 kg", PUSH, ["90 mcg"], "10 mcg", [], "11 mcg", "total_reached"),
    ("58 y 80 kg", "phenylephrine-push-dose", ["50 mcg"] * 4, "50 mcg", ["50 mcg"], "50 mcg", "count_reached"),
    ("58 y 80 kg", "phenylephrine-push-dose", ["800 mcg"], "200 mcg", [], "201 mcg", "total_reached"),
    ("58 y 80 kg", "epinephrine-im", ["0.3 mg"] * 2, "0.3 mg", ["0.3 mg"], "0.3 mg", "count_reached"),
    ("58 y 80 kg", "crystalloid-bolus", ["2000 mL"], "1000 mL", ["1 mL"], "1000 mL", "total_reached"),
    ("58 y 20 kg", "crystalloid-bolus", ["1200 mL"], "600 mL", [], "601 mL", "count_reached"),
    ("5 y 18 kg", "crystalloid-bolus", ["720 mL"], "360 mL", [], "361 mL", "total_reached"),
    ("5 y 18 kg", "crystalloid-bolus", ["360 mL"], "360 mL", [], "361 mL", "above_guide"),
    ("58 y 80 kg", "blood-product", [], "1 bag", ["1 bag"], "1 bag", "count_reached"),
    ("58 y 80 kg", "tranexamic-acid", [], "1 g", ["1 g"], "1 g", "count_reached"),
    ("58 y 80 kg", "calcium-chloride", [], "1 g", ["1 g"], "1 g", "count_reached"),
    ("58 y 80 kg", "calcium-gluconate", [], "3 g", ["1 g"], "3 g", "count_reached"),
    ("58 y 80 kg", "hydrocortisone", [], "100 mg", ["100 mg"], "100 mg", "count_reached"),
    ("58 y 80 kg", "atropine", ["1 mg"] * 2, "1 mg", ["1 mg"], "1 mg", "above_hard_limit"),
    ("5 y 18 kg", "atropine", ["0.36 mg"], "0.36 mg", ["0.3 mg"], "0.3 mg", "count_reached"),
    ("58 y 80 kg", "dextrose", ["10 g"], "10 g", ["10 g"], "10 g", "count_reached"),
    ("58 y 80 kg", "naloxone", ["2 mg"], "2 mg", ["0.1 mg"], "2 mg", "total_reached"),
    ("58 y 80 kg", "ketamine", ["8 mg"], "8 mg", ["8 mg"], "8 mg", "count_reached"),
    ("58 y 80 kg", "fentanyl", ["40 mcg"], "40 mcg", ["40 mcg"], "40 mcg", "count_reached"),
    ("58 y 80 kg", "midazolam", ["1 mg"], "1 mg", ["1 mg"], "1 mg", "count_reached"),
]


def test_what_others_gave_uses_up_counts_and_totals(story):
    wrong = []
    for who, treatment, before, within, besides, beyond, code in USED_UP:
        story.open(who)
        answers = []
        for given, dose in ((before, within), (besides, beyond)):
            for place, each in enumerate(given):
                story.give(treatment, each, at=place - 60, prior=True, prior_by=BY[place % len(BY)])
            answers.append(codes(story.check(treatment, dose)))
        if code in answers[0] or code not in answers[1]:
            wrong.append((who, treatment, code, answers))
    assert wrong == []


def test_calcium_is_counted_together_and_once_for_four_bags(story):
    """Rules: "once per 4 bags of blood", gluconate "as chloride, counted together"."""
    story.open(impression="hemorrhagic").give("calcium-gluconate", "3 g", at=-40, prior=True, prior_by="hospital")
    assert "count_reached" in codes(story.check("calcium-chloride", "1 g"))
    for bags in (4, 4):
        story.give("blood-product", f"{bags} bag", at=-30, prior=True, prior_by="hospital")
    assert "count_reached" not in codes(story.check("calcium-chloride", "1 g"))
    story.give("calcium-chloride", "1 g", at=-20, prior=True, prior_by="hospital")
    assert "count_reached" in codes(story.check("calcium-gluconate", "3 g"))


def test_the_crews_own_new_rate_of_an_infusion_that_others_started(story):
    """The start raises nothing; the new rate is flagged and asks for a reading: "3 min after start or change"."""
    given = story.open().give(DRIP, "0.1 mcg/kg/min", at=-60, prior=True, prior_by="hospital", status="running")
    changed = story.at(1).change(given, amount=amount("0.6 mcg/kg/min"))
    asked = changed["reassessment"]

    assert "starts_by_order" not in codes(changed["check"])
    assert [minute(asked[name]) for name in ("counts_from", "due_at", "overdue_at")] == [2, 4, 6]
    assert [alert["kind"] for alert in story.card()["alerts"]] == ["dose_outside_limits"]
    story.at(3).read(sbp=100, dbp=60, hr=100)
    assert (story.asked(given)["state"], minute(story.asked(given)["due_at"])) == ("waiting", 8)
