"""The flow of a proposal as it is answered and read: numbers worked by hand, lines and sources whole."""

import pytest

from dosing.ground.facts import Amount, Proposal
from dosing.tell.delivery import flow
from tests.copying import replace
from tests.dosing.bedside import RULES, TEN, adult, child, facts

NURSING = "Nursing teaching on infusion sets"  # the start of a source of the demonstration rules
CHART = ("Manufacturer data sheets", "Peripheral catheter flow chart", "Common practice")
SETS = (NURSING, "ISO 8536-4:2020", "Chosen for the demonstration")
STROKES = ("Toshniwal et al.",)
PUMP = ("Hospital guide to injectable medicines",)


def told(treatment, value, unit, patient=None, route="IV", rules=RULES, **more):
    proposal = Proposal(treatment=treatment, amount=Amount(value, unit), route=route, at=TEN, **more)
    return flow(proposal, facts(patient), rules).as_dict()


def ml(value):
    return {"value": value, "unit": "mL"}


def cannula(gauge, by_gravity, by_pressure):
    return {"gauge": gauge, "by_gravity": by_gravity, "by_pressure": by_pressure}


def drops(per_ml, per_min, exact, usable):
    return {"per_ml": per_ml, "per_min": per_min, "exact": exact, "usable": usable}


def strokes(holds, count, every_s, last, managed):
    return {"syringe": ml(holds), "count": count, "every_s": every_s, "last": ml(last), "managed": managed}


def starts(sources):
    """Which of the sources above these are, in their order."""
    return [next(name for name in (*CHART, *SETS, *STROKES, *PUMP) if source.startswith(name)) for source in sources]


def test_a_childs_bolus_whole():
    """240 mL in 10 min: 24 mL/min, 24 strokes of 10 mL in 600 s; gravity through a 22 G (36), pressure a 24 G (40)."""
    answer = told("crystalloid-bolus", 240, "mL", child(5, 18), over_min=10)

    assert starts(answer.pop("sources")) == [*CHART, *SETS, *STROKES]
    assert answer == {
        "needed": {"value": 24, "unit": "mL/min"},
        "over_min": 10,
        "cannulas": [*(cannula(gauge, True, True) for gauge in (14, 16, 18, 20, 22)), cannula(24, False, True)],
        "drops": [
            drops(10, 240, 240, False),
            drops(15, 360, 360, False),
            drops(20, 480, 480, False),
            drops(60, 1440, 1440, False),
        ],
        "strokes": [
            strokes(10, 24, 25, 10, True),
            strokes(20, 12, 50, 20, True),
            strokes(50, 5, 120, 40, None),
            strokes(60, 4, 150, 60, True),
        ],
        "rates": [],
        "pump": None,
        "by_strength": [],
        "lines": [
            "240 mL in 10 min is 24 mL/min",
            "22 G or larger by gravity, 24 G or larger with a pressure infuser",
            "Drops too fast to count: by syringe",
            "Push and pull 10 mL: 24 times, one each 25 s",
            "Push and pull 20 mL: 12 times, one each 50 s",
            "Push and pull 50 mL: 5 times, one each 2 min",
            "Push and pull 60 mL: 4 times, one each 2.5 min",
        ],
    }


def test_less_than_a_syringe_is_one_stroke_over_the_whole_time():
    """20 mL in 10 min is 2 mL/min: 20, 30, 40 and 120 drops a minute, and one stroke of the 20 mL syringe."""
    answer = told("crystalloid-bolus", 20, "mL", child(5, 18), over_min=10)

    assert answer["lines"][1:5] == [
        "24 G or larger by gravity",
        "Drops per min: 20 of the 10 per mL set, 30 of the 15 per mL set, 40 of the 20 per mL set, "
        "120 of the 60 per mL set",
        "Push and pull 10 mL: 2 times, one each 5 min",
        "Push and pull 20 mL: once, over 10 min",
    ]


@pytest.mark.parametrize(
    ("minutes", "told_as"),
    [
        (1, "one each 30 s"),
        (3, "one each 90 s"),
        (3.9, "one each 117 s"),
        (4, "one each 2 min"),
        (5, "one each 2.5 min"),
    ],
)
def test_short_strokes_are_told_in_seconds(minutes, told_as):
    """20 mL by the 10 mL syringe are two strokes: half the time each, under two minutes in seconds."""
    answer = told("crystalloid-bolus", 20, "mL", child(5, 18), over_min=minutes)

    assert any(line.startswith(f"Push and pull 10 mL: 2 times, {told_as}") for line in answer["lines"])


@pytest.mark.parametrize(
    ("volume", "minutes", "line"),
    [
        (1000, 1, "More than any cannula can deliver"),
        (500, 1, "14 G or larger with a pressure infuser"),
        (250, 1, "14 G or larger by gravity, 16 G or larger with a pressure infuser"),
        (300, 15, "24 G or larger by gravity"),
    ],
)
def test_the_cannula_that_is_named(volume, minutes, line):
    """Nominal flows by gravity, textbook: 14 G 250, 16 G 180, 24 G 20 mL/min; twice that under pressure."""
    assert told("crystalloid-bolus", volume, "mL", over_min=minutes)["lines"][1] == line


@pytest.mark.parametrize(
    ("treatment", "patient", "route", "sources"),
    [
        ("crystalloid-bolus", adult(80), "IV", [*CHART, *SETS]),
        ("crystalloid-bolus", adult(80), "IO", [*SETS]),
        ("crystalloid-bolus", child(5, 18), "IO", [*SETS, *STROKES, "Common practice"]),
        ("blood-product", child(5, 18), "IV", [*STROKES, "Common practice"]),
        ("blood-product", adult(80), "IV", []),
    ],
    ids=["adult", "adult through bone", "child through bone", "child's blood", "adult's blood"],
)
def test_only_what_was_used_is_named_as_source(treatment, patient, route, sources):
    """Each once; nobody measured the 50 mL syringe, so that its size stands for it."""
    assert starts(told(treatment, 150, "mL", patient, route=route, over_min=15)["sources"]) == sources


def test_an_infusion_of_a_stated_strength_whole():
    """INF-031: 0.1 mcg/kg/min for 70 kg is 7 mcg/min; of 16 mcg/mL 26.25 mL/h; half rounds up to 26.3."""
    answer = told("norepinephrine-infusion", 0.1, "mcg/kg/min", adult(70), concentration=Amount(16, "mcg/mL"))

    assert answer["pump"].pop("gives")["value"] == pytest.approx(26.3 * 16 / 60 / 70)
    assert starts(answer.pop("sources")) == [*PUMP, NURSING, "ISO 8536-4:2020"]
    assert answer == {
        "needed": {"value": 0.4375, "unit": "mL/min"},
        "over_min": None,
        "cannulas": [],
        "drops": [
            drops(10, 4, 4.375, False),
            drops(15, 7, 6.5625, False),
            drops(20, 9, 8.75, True),
            drops(60, 26, 26.25, True),
        ],
        "strokes": [],
        "rates": [
            {"value": 0.1, "unit": "mcg/kg/min"},
            {"value": 7, "unit": "mcg/min"},
            {"value": 26.25, "unit": "mL/h"},
        ],
        "pump": {"set": {"value": 26.3, "unit": "mL/h"}},
        "by_strength": [
            {"strength": {"value": 16, "unit": "mcg/mL"}, "rate": {"value": 26.25, "unit": "mL/h"}},
            {"strength": {"value": 32, "unit": "mcg/mL"}, "rate": {"value": 13.125, "unit": "mL/h"}},
            {"strength": {"value": 64, "unit": "mcg/mL"}, "rate": {"value": 6.5625, "unit": "mL/h"}},
        ],
        "lines": [
            "0.1 mcg/kg/min = 7 mcg/min = 26.3 mL/h",
            "Pump: set 26.3 mL/h, gives 0.1 mcg/kg/min",
            "Drops per min: 9 of the 20 per mL set, 26 of the 60 per mL set",
        ],
    }


def test_an_infusion_whose_strength_is_not_known_whole():
    """0.1 mcg/kg/min for 80 kg is 8 mcg/min, 480 mcg/h: 30, 15 and 7.5 mL/h of the standard strengths."""
    answer = told("norepinephrine-infusion", 0.1, "mcg/kg/min", adult(80))

    assert [source.split(":")[0] for source in answer["sources"]] == [
        "Norepinephrine prescribing information",
        "Handbook on injectable drugs, norepinephrine",
    ]
    assert answer["rates"] == [{"value": 0.1, "unit": "mcg/kg/min"}, {"value": 8, "unit": "mcg/min"}]
    assert [(each["strength"]["value"], each["rate"]["value"]) for each in answer["by_strength"]] == [
        (16, 30),
        (32, 15),
        (64, 7.5),
    ]
    assert (answer["needed"], answer["pump"], answer["drops"]) == (None, None, [])


def test_where_one_strength_is_listed_it_need_not_be_stated():
    """A rule set with 32 mcg/mL alone: 0.1 mcg/kg/min for 80 kg is 15 mL/h, a quarter of a mL a minute."""
    treatment = RULES.treatments["norepinephrine-infusion"]
    alone = replace(treatment, concentrations=treatment.concentrations[1:2])
    rules = replace(RULES, treatments={**RULES.treatments, "norepinephrine-infusion": alone})

    answer = told("norepinephrine-infusion", 0.1, "mcg/kg/min", adult(80), rules=rules)

    assert answer["pump"]["set"] == {"value": 15, "unit": "mL/h"}
    assert answer["lines"][2] == "Drops per min: 5 of the 20 per mL set, 15 of the 60 per mL set"


def test_what_no_pump_can_run_has_no_setting():
    """0.05 mcg/kg/min for 3 kg of 1 mg/mL is 0.009 mL/h; pumps run from 0.1 mL/h (guide to injectable medicines)."""
    answer = told("epinephrine-infusion", 0.05, "mcg/kg/min", child(1, 3), concentration=Amount(1, "mg/mL"))

    assert answer["pump"] is None
    assert answer["lines"] == [
        "0.05 mcg/kg/min = 0.15 mcg/min = 0.009 mL/h",
        "Drops cannot be counted at this rate: by pump",
    ]


def test_a_rate_that_is_worked_out_is_told_in_two_digits_and_kept_exactly():
    """10 mL/h of 16 mcg per mL are 160 mcg/h, 2.667 mcg/min, 0.0401 mcg/kg/min for 66.5 kg; what is stated stays."""
    bag = {"concentration": Amount(16, "mcg/mL")}
    answer = told("norepinephrine-infusion", 10, "mL/h", adult(66.5), **bag)

    assert answer["lines"][:2] == [
        "0.04 mcg/kg/min = 2.7 mcg/min = 10 mL/h",
        "Pump: set 10 mL/h, gives 0.04 mcg/kg/min",
    ]
    assert answer["rates"][0]["value"] == pytest.approx(0.0401, abs=1e-5)
    assert told("norepinephrine-infusion", 0.125, "mcg/kg/min", adult(80), **bag)["lines"][0].startswith("0.125 mcg/kg")
