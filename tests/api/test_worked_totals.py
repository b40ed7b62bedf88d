"""How much was given in all, through the API: whatever the doses were stated in, and by the weight of their time."""

import pytest

from tests.api.story import Story, codes

PUSH, FLUID, BLOOD = "epinephrine-push-dose", "crystalloid-bolus", "blood-product"


def ml(value):
    return {"value": value, "unit": "mL"}


@pytest.fixture
def story(cast, monkeypatch):
    return Story(cast, monkeypatch)


# Patient, treatment, its doses with the mL that went in, in all. A bag counts 600 mL (JTS children's guideline: the
# largest); the mL of a drug are those of whatever it was mixed in, so the dose that was hung counts.
IN_ALL = [
    ("58 y 80 kg", PUSH, [("10 mcg", None), ("0.02 mg", None)], (30, "mcg")),
    ("5 y 18 kg", PUSH, [("1 mcg/kg", None), ("9 mcg", None)], (27, "mcg")),
    ("58 y 80 kg", "naloxone", [("0.4 mg", None), ("400 mcg", None)], (0.8, "mg")),
    ("58 y 80 kg", FLUID, [("10 mL/kg", None), ("0.2 L", None)], (1000, "mL")),
    ("58 y 80 kg", FLUID, [("500 mL", 200), ("250 mL", None)], (450, "mL")),
    ("58 y 80 kg", BLOOD, [("1 bag", None), ("1 bag", None)], (2, "bag")),
    ("58 y 80 kg", BLOOD, [("1 bag", None), ("300 mL", None)], (900, "mL")),
    ("58 y 80 kg", BLOOD, [("1 bag", 250)], (250, "mL")),
    ("58 y 80 kg", BLOOD, [("1 bag", 0)], (0, "mL")),
    ("58 y 80 kg", FLUID, [("500 mL", 0), ("250 mL", None)], (250, "mL")),
    ("58 y 80 kg", "tranexamic-acid", [("1 g", 50)], (1, "g")),
    ("58 y 80 kg", "tranexamic-acid", [("1 g", 0)], (0, "g")),
    ("58 y 80 kg", "norepinephrine-infusion", [("0.1 mcg/kg/min", None)], None),
    ("5 y ? kg", "ketamine", [("0.2 mg/kg", None)], None),
]


def test_totals_in_whatever_unit_the_doses_were_stated(story):
    wrong = []
    for who, treatment, doses, expected in IN_ALL:
        story.open(who)
        for dose, infused in doses:
            given = story.give(treatment, dose, status="given" if infused is None else "running")
            if infused is not None:
                story.change(given, status="stopped", infused={"value": infused, "unit": "mL"})
        (line,) = story.card()["given"]
        found = line["total"] and (pytest.approx(line["total"]["value"]), line["total"]["unit"])
        if (line["count"], found) != (len(doses), expected):
            wrong.append((treatment, doses, line))
    assert wrong == []


def test_a_bolus_of_which_nothing_went_in_is_no_fluid(story):
    """All three boluses of 1,000 mL are left, and a pressor still says that no fluid was given."""
    story.open()
    story.change(story.give(FLUID, "500 mL", status="running", container_ml=500), status="stopped", infused=ml(0))
    card = story.card()

    assert card["fluids"]["total_ml"] == 0
    assert card["in_hand"][0]["left"] == ml(500)
    assert story.guidance()[FLUID]["left"]["total"]["value"] == 3000
    assert "no_fluid_yet" in codes(story.check(PUSH, "10 mcg"))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ((), "counting in full what runs"),
        (({"status": "stopped"},), "counting in full what was stopped without an amount"),
        (({"status": "stopped"}, {}), "counting in full what runs or was stopped without an amount"),
        (({"status": "stopped", "infused": {"value": 200, "unit": "mL"}},), ""),
    ],
    ids=["runs", "stopped", "both", "told"],
)
@pytest.mark.parametrize(("treatment", "dose"), [(FLUID, "500 mL"), (BLOOD, "1 bag")])
def test_what_is_counted_though_perhaps_not_all_went_in_is_said_of_total_allowance_and_check_alike(
    story, treatment, dose, changes, said
):
    """The total of fluid says it of fluid alone: blood is none of it."""
    story.open()
    given = story.give(treatment, dose, status="running")
    for change in changes:
        story.change(given, **change) if change else story.give(treatment, dose, status="running")
    total = next(each for each in story.check(treatment, dose)["effects"] if "in all with this dose" in each)

    assert story.guidance()[treatment]["left"]["counted_whole"] == said
    assert total.endswith(f", {said}") if said else "counting" not in total
    assert story.card()["fluids"]["counted_whole"] == (said if treatment == FLUID else "")


def test_what_was_given_by_a_weight_stays_so_when_the_weight_is_corrected(story):
    """5 mL/kg of 80 kg are 400 mL; found to weigh 20 kg, 90 mL/kg or three boluses of 600 mL are 1,800 mL in all."""
    story.open().give(FLUID, "5 mL/kg")
    weight = {"value": 20, "unit": "kg", "basis": "measured"}
    assert story.crew.patch(f"cases/{story.case}/", {"patient": {"weight": weight}}).status_code == 200
    story.give(FLUID, "900 mL", prior=True)
    card = story.card()

    assert (card["fluids"]["total_ml"], card["fluids"]["ml_per_kg"]) == (1300, 65)
    assert card["given"][0]["total"] == {"value": 1300, "unit": "mL"}
    assert story.guidance()[FLUID]["left"]["total"]["value"] == 500
    found = [codes(story.check(FLUID, dose)) & {"total_reached", "count_reached"} for dose in ("500 mL", "501 mL")]
    assert found == [set(), {"total_reached", "count_reached"}]
