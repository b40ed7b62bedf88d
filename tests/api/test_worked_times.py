"""When the next dose may be given, and when a reading is due, through the API: minutes after noon, reckoned by hand."""

import pytest

from dosing.rules import words
from tests.api.story import Story, codes, minute
from tests.api.worked import amount
from tests.depth import thinned
from tests.dosing.bedside import RULES, usual_dose

SECOND = 1 / 60
GRACE = 15 * SECOND  # contract: "15 s of grace on intervals"
# The smallest interval of a treatment in minutes, None where no source names one, with a dose that is usual.
PUBLISHED = {
    "epinephrine-push-dose": ("10 mcg", 2),  # critical-care transport regimen: every 2 min
    "phenylephrine-push-dose": ("100 mcg", 2),  # EMCrit, ResusNurse: every 2-5 min
    "epinephrine-im": ("0.3 mg", 5),  # MSF, Resuscitation Council UK: repeat after 5 min
    "atropine": ("1 mg", 3),  # life support: every 3-5 min
    "dextrose": ("10 g", 10),  # our choice
    "naloxone": ("0.4 mg", 2),  # life support, Merck: every 2-3 min
    "ketamine": ("8 mg", 10),  # EMS pain protocols, from memory
    "fentanyl": ("40 mcg", 10),  # EMS pain protocol: repeat after 10 min
    "midazolam": ("1 mg", 5),  # our choice
    "crystalloid-bolus": ("250 mL", None),
    "epinephrine-infusion": ("0.05 mcg/kg/min", None),
    "norepinephrine-infusion": ("0.05 mcg/kg/min", None),
    "dopamine-infusion": ("2 mcg/kg/min", None),
    "phenylephrine-infusion": ("0.5 mcg/kg/min", None),
    "vasopressin-infusion": ("0.01 units/min", None),
    "blood-product": ("1 bag", None),
    "tranexamic-acid": ("1 g", None),
    "calcium-chloride": ("1 g", None),
    "calcium-gluconate": ("3 g", None),
    "hydrocortisone": ("100 mg", None),
}
PUSH, FLUID = "epinephrine-push-dose", "crystalloid-bolus"
RUNNING = {slug for slug, treatment in RULES.treatments.items() if treatment.form == "infusion"}


def by_the_rules(treatment):
    """What `PUBLISHED` would say of a treatment that is not in it: then the rule set's own interval must hold."""
    usual = usual_dose(treatment)
    return f"{usual.value:g} {usual.unit}", treatment.interval and treatment.interval.value


INTERVALS = {slug: PUBLISHED.get(slug) or by_the_rules(treatment) for slug, treatment in RULES.treatments.items()}


def newest_that_counts(treatment):
    """Of all given in the order of `INTERVALS`, the one from which its interval counts: the last of its class."""
    mine = RULES.treatments[treatment].drug_class
    if mine == "other":  # no class: each counts from itself alone
        return treatment
    return [name for name in INTERVALS if RULES.treatments[name].drug_class == mine][-1]


@pytest.fixture
def story(cast, monkeypatch):
    return Story(cast, monkeypatch)


def test_the_interval_of_every_treatment_with_its_grace(story):
    """Each given a minute after the other; then asked 16 s and 15 s before its interval has passed."""
    story.open().at(len(INTERVALS) + max(interval or 0 for _, interval in INTERVALS.values()))
    given = {name: start for start, name in enumerate(INTERVALS)}
    for treatment, start in given.items():
        story.give(treatment, INTERVALS[treatment][0], at=start)
    wrong, guidance = [], story.guidance()
    assert guidance.keys() == INTERVALS.keys() >= PUBLISHED.keys()
    for treatment, (dose, interval) in INTERVALS.items():
        start = given[newest_that_counts(treatment)]
        free = start + (interval or 0)
        sooner = story.check(treatment, dose, at=free - GRACE - SECOND if interval else start + SECOND)
        again = story.check(treatment, dose, at=free - GRACE if interval else start + SECOND)
        soon = ["too_soon" in codes(found) for found in (sooner, again)]
        told = [minute(found["next_at"]) for found in (guidance[treatment], sooner, again)]
        expected = [free, free, free - GRACE + interval] if interval else [None] * 3
        if soon != [interval is not None, False] or told != pytest.approx(expected):
            wrong.append((treatment, soon, told))
    assert wrong == []


# What is on record of epinephrine pushes, when it is asked, whether that is too soon, from when the next may be given.
# Rules: interval 2 min; contract: prior doses count; late data is judged by its place in time; corrected data leaves.
ON_RECORD = [
    ("nothing", [], 5, False, 7),
    ("given by others a minute ago", [{"at": 4, "prior": True, "prior_by": "hospital"}], 5, True, 6),
    ("two doses, the later told first", [{"at": 4}, {"at": 1}], 5, True, 6),
    ("a dose told late, 1 min 44 s before the next", [{"at": 5}], 5 - 2 + GRACE + SECOND, False, 5 + GRACE + SECOND),
    ("a dose told late, 1 min 45 s before the next", [{"at": 5}], 5 - 2 + GRACE, False, 5 + GRACE),
    ("a dose entered in error", [{"at": 4, "wrong": True}], 5, False, 7),
    ("the newer one entered in error", [{"at": 1}, {"at": 4, "wrong": True}], 2, True, 3),
    ("another pressor", [{"at": 4, "treatment": "phenylephrine-push-dose", "dose": "50 mcg"}], 5, True, 6),
    ("a drug of no class", [{"at": 4, "treatment": "atropine", "dose": "1 mg"}], 5, False, 7),
]


def test_the_next_push_after_prior_late_and_corrected_doses(story):
    wrong = []
    for name, doses, asked, soon, free in ON_RECORD:
        story.open().at(6)
        for told in doses:
            dose = {"treatment": PUSH, "dose": "10 mcg", **told}
            in_error = dose.pop("wrong", False)
            given = story.give(**dose)
            if in_error:
                story.correct("intervention", given)
        found = story.check(PUSH, "10 mcg", at=asked)
        if ("too_soon" in codes(found), minute(found["next_at"])) != (soon, pytest.approx(free)):
            wrong.append((name, sorted(codes(found)), minute(found["next_at"])))
    assert wrong == []


# An order of 30 mcg: doses in all, least minutes between two, when the second is given; whether that is too soon,
# whether it counts for the order, from when the next may be given. Contract: "within amount, count and interval".
REPEATED = [
    (3, 5, 3, True, 1, 5),  # the rules would allow it after 2 min, the order does not
    (3, 5, 5 - GRACE - SECOND, True, 1, 5),
    (3, 5, 5 - GRACE, False, 2, 5 - GRACE + 5),
    (3, 1, 1, False, 2, 2),  # ordered more often than the rules would
    (2, 5, 5, False, None, 7),  # the order is carried out: the rules' 2 min hold again
]


def test_the_interval_of_an_order_that_is_to_be_repeated(story):
    wrong = []
    for times, every, second, soon, counted, free in REPEATED:
        story.open()
        repeat = {"at": story.time(0), "repeat": {"times": times, "every_min": every}, "reason": "no response to fluid"}
        asked = {**repeat, **story.dose(PUSH, "30 mcg")}
        order = story.posted(f"cases/{story.case}/orders/", asked, by=story.physician)["id"]
        story.posted(f"orders/{order}/readback/", {"treatment": PUSH, "route": "IV", "amount": amount("30 mcg")})
        first = story.give(PUSH, "30 mcg", order=order)["check"]
        story.at(second).read(sbp=70, dbp=40, hr=110, at=second - SECOND)
        check = story.give(PUSH, "30 mcg", order=order)["check"]
        beyond = {one["code"] for one in check["findings"] if one["level"] == "needs_order"}
        told = [minute(found["next_at"]) for found in (first, check)]
        left = next((one["given"] for one in story.card()["orders"]), None)
        if (beyond, left, told) != ({"too_soon"} if soon else set(), counted, pytest.approx([every, free])):
            wrong.append((every, second, beyond, left, told))
    assert wrong == []


def test_a_single_order_is_for_now_and_the_next_dose_counts_from_it(story):
    """Contract: a read-back order turns its own findings into cautions; the first dose was given a minute before."""
    story.open().give(PUSH, "20 mcg", at=-1)
    asked = {"at": story.time(0), "reason": "no response", **story.dose(PUSH, "30 mcg")}
    order = story.posted(f"cases/{story.case}/orders/", asked, by=story.physician)["id"]
    story.posted(f"orders/{order}/readback/", {"treatment": PUSH, "route": "IV", "amount": amount("30 mcg")})
    check = story.give(PUSH, "30 mcg", order=order)["check"]

    levels = {one["code"]: one["level"] for one in check["findings"]}
    assert (levels["too_soon"], minute(check["next_at"])) == ("caution", 2)


# An order of noon that runs out after 10 min (contract: "10 min for a single dose"): whether it was read back, when the
# dose was given, when that was told; whether it was as ordered. What is late is ordered by when it happened.
TOLD_LATE = [(True, 5, 5, True), (True, 5, 30, True), (True, 10, 30, True), (True, 10 + SECOND, 30, False)]
TOLD_LATE += [(False, 5, 30, False)]


def test_a_dose_given_in_time_but_told_after_its_order_ran_out(story):
    wrong = []
    for read_back, given, told, covered in TOLD_LATE:
        story.open()
        asked = {"at": story.time(0), "reason": "no response", **story.dose(PUSH, "30 mcg")}
        order = story.posted(f"cases/{story.case}/orders/", asked, by=story.physician)["id"]
        if read_back:
            story.posted(f"orders/{order}/readback/", {"treatment": PUSH, "route": "IV", "amount": amount("30 mcg")})
        check = story.at(told).give(PUSH, "30 mcg", at=given, order=order)["check"]
        state = story.crew.get(f"orders/{order}/").json()["state"]
        if (check["verdict"] == "caution", state) != (covered, "given" if covered else "expired"):
            wrong.append((given, told, state, sorted(codes(check))))
    assert wrong == []


BEATS, WAKE = {"sbp": 88, "dbp": 50}, {"rr": 14, "spo2": 97, "avpu": "A"}
# Rules, "reassess": minutes until a reading counts, is due, is overdue, and what it must hold. Where the table names no
# start, a reading counts from the dose on (of an infusion a minute after: the rule set's own). Pressors, fluids need a
# pressure, sedatives and opioids breathing, saturation and alertness (contract). The last: the priority of the alert,
# "high after a pressor or sedative, else medium".
PUBLISHED_READINGS = {
    "epinephrine-push-dose": (1, 2, 5, BEATS, "high"),
    "phenylephrine-push-dose": (1, 2, 5, BEATS, "high"),
    "epinephrine-im": (3, 5, 7, {"bp_method": "unobtainable", "pulses": "carotid", "spo2": 91}, "medium"),
    "epinephrine-infusion": (1, 3, 5, BEATS, "high"),
    "norepinephrine-infusion": (1, 3, 5, BEATS, "high"),
    "dopamine-infusion": (1, 3, 5, BEATS, "high"),
    "phenylephrine-infusion": (1, 3, 5, BEATS, "high"),
    "vasopressin-infusion": (1, 3, 5, BEATS, "high"),
    "blood-product": (0, 10, 15, {"sbp": 88, "dbp": 50}, "medium"),
    "tranexamic-acid": (0, 10, 15, {"sbp": 88, "dbp": 50}, "medium"),
    "calcium-chloride": (0, 5, 10, BEATS, "medium"),
    "calcium-gluconate": (0, 5, 10, BEATS, "medium"),
    "hydrocortisone": (0, 10, 15, {"sbp": 88, "dbp": 50}, "medium"),
    "atropine": (0, 3, 4, {"hr": 70}, "medium"),
    "dextrose": (5, 10, 15, {"glucose_mg_dl": 120}, "medium"),
    "naloxone": (0, 3, 4, {"rr": 14, "spo2": 97}, "medium"),
    "ketamine": (0, 5, 6, WAKE, "high"),
    "fentanyl": (0, 5, 6, WAKE, "high"),
    "midazolam": (0, 5, 6, WAKE, "high"),
    "crystalloid-bolus": (10, 10, 12, {"sbp": 88, "dbp": 50}, "medium"),
}
OVER = {"over_min": 10}  # a bolus over 10 minutes: its end is the end that was told
NEEDS = {"sbp": "pressure", "bp_method": "pressure_or_pulses", "glucose_mg_dl": "glucose"}
NEEDS |= {"avpu": "alertness"}
NOT_NEEDS = ("dbp", "pulses")  # they belong to what stands before them
READING_OF = {
    **{"pressure": {"sbp": 88, "dbp": 50}, "pressure_or_pulses": {"bp_method": "unobtainable", "pulses": "carotid"}},
    **{"alertness": {"avpu": "A"}, "glucose": {"glucose_mg_dl": 90}, "hr": {"hr": 96}, "lungs": {"lungs": "clear"}},
    **{"rr": {"rr": 14}, "spo2": {"spo2": 97}, "temperature": {"temp_c": 36.5}, "heart_rate": {"hr": 96}},
}
ONE_NEED = {"heart_rate": "hr"}  # by two words


def needs_of(reading):
    return {NEEDS.get(name, name) for name in reading if name not in NOT_NEEDS}


def asked_by_the_rules(treatment):
    """What `PUBLISHED_READINGS` would say of a treatment that is not in it: then the rule set's own numbers hold."""
    rule = treatment.reassessment
    end = OVER["over_min"] if rule.counts_from_end else 0
    due = end + rule.due_min
    reading = {name: value for need in rule.needs for name, value in READING_OF[need].items()}
    priority = "high" if treatment.drug_class in ("pressor", "sedative", "opioid") else "medium"
    return end or rule.counts_from_min, due, due + rule.grace_s / 60, reading, priority


READINGS = {
    slug: PUBLISHED_READINGS.get(slug) or asked_by_the_rules(treatment)
    for slug, treatment in RULES.treatments.items()
    if treatment.reassessment
}


def without_last(reading):
    """The reading without the last thing that it needs; something else in its place."""
    last = list(reading)[-1]
    gone = {"dbp": ("sbp", "dbp"), "pulses": ("bp_method", "pulses")}.get(last, (last,))
    return {name: value for name, value in reading.items() if name not in gone} | {"etco2": 35}


def overdue(story):
    return [alert["priority"] for alert in story.card()["alerts"] if alert["kind"] == "reassessment_overdue"]


def test_the_reading_that_every_treatment_asks_for(story):
    """A second too early it is none, nor with one need missing; overdue to the second; done however late told."""
    wrong = []
    for treatment, (counts, due, late, reading, priority) in thinned(READINGS.items(), every=4):
        more = OVER if RULES.treatments[treatment].reassessment.counts_from_end else {}
        status = "running" if treatment in RUNNING else "given"
        given = story.open().give(treatment, INTERVALS[treatment][0], status=status, **more)
        asked = given["reassessment"]
        times = [minute(asked[name]) for name in ("counts_from", "due_at", "overdue_at")]
        story.at(counts).read(at=counts - SECOND, **reading)
        story.read(**without_last(reading))
        story.at(late - SECOND).read(etco2=35)
        states = [story.asked(given)["state"], overdue(story)]
        story.at(late)
        states += [story.asked(given)["state"], overdue(story)]
        runs_on = (
            status == "running" and RULES.treatments[treatment].drug_class == "pressor"
        )  # it asks for the next pressure, 5 min after this one
        story.at(late + 5).read(at=late if runs_on else counts + SECOND, **reading)
        done = story.asked(given)
        states += [done["state"], overdue(story)]
        expected = ["waiting", [], "overdue", [priority], "waiting" if runs_on else "done", []]
        needs = {ONE_NEED.get(need, need) for need in asked["needs"]}
        if times != [counts, due, late] or needs != needs_of(reading) or states != expected:
            wrong.append((treatment, times, asked["needs"], states))
        answered = done["due_at"] if runs_on else done["done_at"]
        assert minute(answered) == pytest.approx(late + 5 if runs_on else counts + SECOND)
    assert READINGS.keys() >= PUBLISHED_READINGS.keys()
    assert READING_OF.keys() == words.READINGS
    assert wrong == []


# A bolus of 500 mL at noon: what was told of its time and its end, and when a reading counts, is due, is overdue.
# Rules: "end + 2 min, at most 15 min; its end".
BOLUSES = [
    ({}, None, 15, 15, 17),
    ({"status": "running"}, None, 15, 15, 17),
    ({"over_min": 10}, None, 10, 10, 12),
    ({"over_min": 30}, None, 15, 15, 17),
    ({"status": "running"}, ("finished", 6), 6, 6, 8),
    ({"status": "running", "over_min": 10}, ("stopped", 4), 4, 4, 6),
    ({"status": "running", "over_min": 10}, ("finished", 13), 13, 13, 15),
    ({"status": "running"}, ("finished", 20), 15, 15, 17),
]


def test_the_reading_after_a_bolus_follows_its_end(story):
    wrong = []
    for told, end, *expected in BOLUSES:
        given = story.open().give(FLUID, "500 mL", **told)
        if end:
            given = story.at(end[1]).change(given, status=end[0])
        times = [minute(given["reassessment"][name]) for name in ("counts_from", "due_at", "overdue_at")]
        if times != expected:
            wrong.append((told, end, times))
    assert wrong == []


def test_an_end_that_is_told_late_lets_an_earlier_reading_count(story):
    """Contract: readings from its end on complete it, even if they arrive late; here the end does."""
    given = story.open().give(FLUID, "500 mL", status="running")
    story.at(10).read(sbp=92, dbp=60, lungs="clear")
    assert story.asked(given)["state"] == "waiting"
    story.change(given, at=6, status="finished")
    assert minute(story.asked(given)["done_at"]) == 10


# Contract: "a pressure 3 min after start or change, then every 5 min"; 2 min of grace.
INFUSIONS = [
    ("epinephrine-infusion", "0.1 mcg/kg/min"),
    ("norepinephrine-infusion", "0.1 mcg/kg/min"),
    ("dopamine-infusion", "5 mcg/kg/min"),
    ("phenylephrine-infusion", "1 mcg/kg/min"),
    ("vasopressin-infusion", "0.02 units/min"),
]


def test_each_new_rate_asks_for_a_reading_of_its_own(story):
    """A push between the start and the new rate is no further dose after the new rate; one after it is."""
    wrong = []
    for treatment, dose in INFUSIONS:
        given = story.open().give(treatment, INTERVALS[treatment][0], status="running")
        story.at(1).read(**BEATS)
        states = [minute(story.asked(given)["due_at"])]
        story.at(6).read(**BEATS)
        push = story.at(10).give(PUSH, "10 mcg")
        story.at(11).read(**BEATS)
        asked = story.at(20).change(given, amount=amount(dose))["reassessment"]
        times = [minute(asked[name]) for name in ("counts_from", "due_at", "overdue_at")]
        story.at(21).read(at=21 - SECOND, **BEATS)
        states += [story.asked(push)["state"], story.asked(given)["state"]]
        story.at(22).give(PUSH, "10 mcg")
        states += [story.asked(given)["state"]]
        story.read(at=21, **BEATS)
        states += [story.asked(given)["state"], minute(story.asked(given)["due_at"])]
        if times != [21, 23, 25] or states != [6, "done", "waiting", "overdue", "waiting", 26]:
            wrong.append((treatment, times, states))
    assert wrong == []


def test_a_rate_that_is_told_late_leaves_the_newer_one_in_force(story):
    """By when it was, not when it was told: 0.1 at noon, 0.3 at 10, then 0.2 at 4 and, after the end, 0.25 at 8."""
    drip = "norepinephrine-infusion"
    given = story.open().give(drip, "0.1 mcg/kg/min", status="running", concentration="16 mcg/mL")
    story.at(10).change(given, amount=amount("0.3 mcg/kg/min"))
    late = story.at(11).change(given, at=4, amount=amount("0.2 mcg/kg/min"))
    line = story.card()["running"][0]
    assert [rate["amount"]["value"] for rate in line["rates"]] == [0.1, 0.2, 0.3]
    assert line["amount"]["value"] == late["amount"]["value"] == 0.3
    assert late["check"]["give"]["dose"]["value"] == 0.2
    assert [minute(late["reassessment"][name]) for name in ("counts_from", "due_at")] == [11, 13]

    story.at(12).change(given, status="stopped")
    ended = story.at(13).change(given, at=8, amount=amount("0.25 mcg/kg/min"))
    assert (ended["status"], ended["amount"]["value"]) == ("stopped", 0.3)
    assert "starts_by_order" not in codes(ended["check"])
    assert minute(story.card()["doses"][0]["ended_at"]) == 12


# What is given a minute after an epinephrine push whose reading is missing, and whether that makes it overdue at once.
# Contract: "at once when a further pressor dose precedes the reading".
FURTHER = [
    (PUSH, "10 mcg", {}, True),
    ("phenylephrine-push-dose", "50 mcg", {}, True),
    ("vasopressin-infusion", "0.01 units/min", {"status": "running"}, True),
    (FLUID, "250 mL", {}, False),
    ("fentanyl", "20 mcg", {}, False),
    (PUSH, "10 mcg", {"prior": True, "prior_by": "other_crew"}, False),
]


def test_a_further_pressor_before_the_reading_makes_it_overdue_at_once(story):
    wrong = []
    for treatment, dose, more, expected in FURTHER:
        first = story.open().give(PUSH, "10 mcg")
        story.at(1).give(treatment, dose, **more)
        if (story.asked(first)["state"] == "overdue", overdue(story) == ["high"]) != (expected, expected):
            wrong.append((treatment, more, story.asked(first)))
    assert wrong == []


def test_a_reading_is_unknown_only_while_the_unit_is_out_of_reach(story):
    """Contract: "lost contact and nothing was received after due_at": contact is lost at 5, due 10, overdue 15."""
    given = story.open().give("tranexamic-acid", "1 g")
    story.at(14).at(15)
    silent = story.card()["reassessments"][0]["state"]
    story.at(16).read(etco2=35)
    heard = story.asked(given)["state"]
    story.at(17).read(at=11, sbp=88, dbp=50)
    done = story.asked(given)

    assert (silent, heard, done["state"], minute(done["done_at"])) == ("unknown", "overdue", "done", 11)
