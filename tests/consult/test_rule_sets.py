"""Adoption of a rule set: who may, what is kept of it, and what it means for cases that are open."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID, uuid4

import pytest
from msgspec.structs import asdict

from consult import access, problems, queries
from consult.actions import accounts, alerts, cards, cases, checks, rule_sets
from consult.journal import seals, triggers, verify
from consult.models import Agency, Alert, Intervention, JournalEntry, RuleSetRecord
from consult.models.rules import is_demonstration
from dosing.load import reader
from tests.conftest import ADULT, NOON, Cast, Consult, later, open_consult

CONSERVATIVE = reader.load_shipped("conservative")
DEMONSTRATION = reader.load_shipped("demonstration")
SMALL_PUSH = {"treatment": "epinephrine-push-dose", "amount": {"value": 6, "unit": "mcg"}, "route": "IV"}


def adopt(cast: Cast, rules: Any = CONSERVATIVE, now: Any = NOON, **more: Any) -> RuleSetRecord:
    told = {"reason": "smaller boluses for children", "by_way_of": "page", **more}
    return rule_sets.adopt(cast.sorrel, rules, now, **told)


def codes(answer: Any) -> set[str]:
    return {finding.code for finding in answer.findings}


class TestWhoMay:
    @pytest.mark.parametrize("name", ["osk", "merrin", "averill", "vane"])
    def test_nobody_but_the_medical_director(self, name: str, cast: Cast) -> None:
        with pytest.raises(problems.Forbidden, match="Only the medical director"):
            rule_sets.adopt(getattr(cast, name), CONSERVATIVE, NOON, reason="", by_way_of="page")

        assert not RuleSetRecord.objects.filter(approved_at__isnull=False).exists()

    def test_the_same_content_is_not_adopted_twice(self, cast: Cast) -> None:
        adopt(cast)
        with pytest.raises(problems.WrongState, match="already in force"):
            adopt(cast, now=later(minutes=1))

        assert Agency.objects.get(pk=cast.sorrel.agency).seq == 1

    def test_the_demonstration_rules_may_be_put_in_force_and_stay_unapproved(self, cast: Cast) -> None:
        record = adopt(cast, DEMONSTRATION)

        assert (record.approved_at, record.approved) == (NOON, False)
        assert record.digest == DEMONSTRATION.digest


class TestWhatIsKept:
    def test_the_agency_has_the_set_with_digest_and_who_approved_it_when(self, cast: Cast) -> None:
        adopt(cast)

        record = Agency.objects.get(pk=cast.sorrel.agency).rule_set
        assert record is not None
        assert (record.digest, record.approved_by_id, record.approved_at) == (
            CONSERVATIVE.digest,
            cast.sorrel.membership,
            NOON,
        )
        assert reader.loads(record.content).digest == CONSERVATIVE.digest

    def test_it_says_nothing_about_another_agency(self, cast: Cast) -> None:
        adopt(cast, DEMONSTRATION)

        other = Agency.objects.get(pk=cast.vane.agency)
        assert other.rule_set is not None
        assert other.rule_set.approved_at is None
        assert queries.agency_journal(other.pk) == []

    def test_the_agencys_journal_says_who_what_when_and_why(self, cast: Cast) -> None:
        open_consult(cast)
        adopt(cast)

        (line,) = queries.agency_journal(cast.sorrel.agency)
        assert (line["seq"], line["kind"], line["at"]) == (1, "rule_set.adopted", NOON)
        assert line["by"] == {"name": "Dr. Sorrel", "role": "director"}
        assert line["data"] == {
            "rule_set": CONSERVATIVE.label,
            "replaced": DEMONSTRATION.label,
            "reason": "smaller boluses for children",
            "by_way_of": "page",
            "open_cases": 1,
            "numbers": [],
        }

    def test_a_name_and_version_stand_for_one_content(self, cast: Cast) -> None:
        """Of the set in force, of one adopted before, and of the shipped one that was replaced."""
        adopt(cast)
        adopt(cast, DEMONSTRATION, later(minutes=1))
        with pytest.raises(problems.WrongState, match="conservative 1 was in force here with different content"):
            adopt(cast, another(CONSERVATIVE, "1"), later(minutes=2))
        assert Agency.objects.get(pk=cast.sorrel.agency).seq == 2

        adopt(cast, another(CONSERVATIVE, "2"), later(minutes=3))
        adopt(cast, CONSERVATIVE, later(minutes=4))

    @pytest.mark.parametrize("name", ["demonstration", " Demonstration"])
    def test_a_changed_demonstration_needs_a_name_of_its_own(self, name: str, cast: Cast) -> None:
        """Else its pages would say demonstration and approved at once."""
        with pytest.raises(problems.WrongState, match="Give a changed set a name of its own"):
            adopt(cast, another(DEMONSTRATION, "2", name=name))
        assert not is_demonstration(CONSERVATIVE.name)
        assert not RuleSetRecord(name=name, digest="0" * 64, approved_at=NOON).approved  # of a release before this one

    def test_another_agency_may_use_the_name_for_its_own(self, cast: Cast) -> None:
        adopt(cast)
        there = accounts.make_member(Agency.objects.get(pk=cast.vane.agency), "director", name="Dr. Else")

        rules = another(CONSERVATIVE, CONSERVATIVE.version)
        record = rule_sets.adopt(access.actor_of_membership(there), rules, NOON, reason="", by_way_of="page")
        assert record.digest != CONSERVATIVE.digest


class TestTheAgencysJournal:
    @pytest.fixture
    def adopted_twice(self, cast: Cast) -> Agency:
        adopt(cast)
        adopt(cast, DEMONSTRATION, later(minutes=5))
        return Agency.objects.get(pk=cast.sorrel.agency)

    def test_it_is_chained_and_intact(self, adopted_twice: Agency, cast: Cast) -> None:
        answer = verify.verified(cast.averill, None, later(minutes=6))

        assert answer["intact"] is True
        assert answer["checked_to"]["entries"] == 2
        assert verify.run(adopted_twice.pk, later(minutes=6)).first_fault is None

    @pytest.mark.parametrize("after_a_run", [False, True])
    @pytest.mark.parametrize(
        ("tamper", "seq"),
        [
            (lambda rows: rows.filter(seq=1).update(by_name="Dr. Nobody"), 1),
            (lambda rows: rows.filter(seq=1)._raw_delete("default"), 1),
            (lambda rows: rows.filter(seq=2)._raw_delete("default"), 2),
        ],
        ids=["another approver", "a line taken out", "the end cut off"],
    )
    def test_tampering_is_seen(self, tamper: Any, seq: int, after_a_run: bool, adopted_twice: Agency, cast: Cast):
        if after_a_run:
            verify.run(adopted_twice.pk, later(minutes=6))
        triggers.lift()
        tamper(JournalEntry.objects.filter(agency=adopted_twice, case=None))

        answer = verify.verified(cast.averill, None, later(minutes=7))
        assert answer["intact"] is False
        assert (answer["first_fault"]["agency"], answer["first_fault"]["seq"]) == (str(adopted_twice.pk), seq)

    def test_an_end_that_was_cut_off_everywhere_is_known_by_its_seal(self, adopted_twice: Agency, cast: Cast) -> None:
        assert seals.seal(later(minutes=6)) == 1
        assert seals.seal(later(minutes=10)) == 0
        triggers.lift()
        lines = JournalEntry.objects.filter(agency=adopted_twice, case=None)
        lines.filter(seq=2)._raw_delete("default")
        Agency.objects.filter(pk=adopted_twice.pk).update(seq=1, head=lines.get(seq=1).digest)

        fault = verify.verified(cast.averill, None, later(minutes=11))["first_fault"]
        assert (fault["seq"], fault["what"]) == (2, "a sealed line is missing")


class TestOpenCases:
    def test_card_check_and_guidance_use_the_new_set_from_then_on(self, consult: Consult) -> None:
        cast = consult.cast
        before = checks.check_proposal(cast.merrin, consult.uid, SMALL_PUSH, NOON)
        adopt(cast)
        after = checks.check_proposal(cast.merrin, consult.uid, SMALL_PUSH, NOON)

        assert "below_least" in codes(before)
        assert "below_least" not in codes(after)
        assert [asdict(each.rule_set) for each in (before, after)] == [DEMONSTRATION.label, CONSERVATIVE.label]
        assert checks.guidance(cast.osk, consult.uid, NOON)["rule_set"] == CONSERVATIVE.label
        assert consult.card["rule_set"] == {**CONSERVATIVE.label, "approved": True}

    def test_what_was_judged_before_keeps_the_digest_it_was_judged_by(self, consult: Consult) -> None:
        consult.give("epinephrine-push-dose", 10, "mcg", at=NOON)
        adopt(consult.cast, now=later(minutes=1))
        consult.give("epinephrine-push-dose", 10, "mcg", at=later(minutes=3))

        judged = [row.verdict["rule_set"]["digest"] for row in Intervention.objects.order_by("seq")]
        assert judged == [DEMONSTRATION.digest, CONSERVATIVE.digest]

    def test_the_cases_journal_says_so_and_the_board_gets_a_new_card(self, consult: Consult) -> None:
        seq = consult.row.seq
        adopt(consult.cast)

        line = consult.journal[-1]
        assert (line["kind"], line["by"]["name"]) == ("case.rules_changed", "Dr. Sorrel")
        assert (line["data"]["rule_set"], line["data"]["replaced"]) == (CONSERVATIVE.label, DEMONSTRATION.label)
        assert consult.row.seq == consult.card["seq"] == seq + 1
        assert not cards.differs(consult.row)
        replayed = queries.card_at(consult.row, seq)
        assert replayed is not None
        assert replayed["rule_set"]["digest"] == DEMONSTRATION.digest

    def test_an_alert_that_the_new_set_asks_for_is_raised_with_it(self, consult: Consult) -> None:
        """A MAP of 70 is at a goal of 65 and below one of 75, twice in a row."""
        consult.vitals(sbp=100, dbp=55, at=NOON)
        consult.vitals(sbp=100, dbp=55, at=later(minutes=1))
        assert "low_pressure" not in consult.alerts

        adopt(consult.cast, with_adult_goal(75), later(minutes=2))

        assert consult.card["goal"]["floor"] == 75
        assert "low_pressure" in consult.alerts

    def test_what_was_measured_before_is_held_against_the_goal_of_then(self, consult: Consult) -> None:
        """By hand: MAP 70 all along is fine until minute 4 (goal 65), 5 too low until minute 8 (75), then 10 (80)."""
        cast = consult.cast
        for minute in (0, 4):
            consult.vitals(sbp=100, dbp=55, at=later(minutes=minute), now=later(minutes=4))
        assert consult.card["below_goal"]["minutes"] == 0

        adopt(cast, with_adult_goal(75), later(minutes=4))
        assert (aims(consult), consult.card["below_goal"]["minutes"]) == ([65, 75], 0)
        consult.vitals(sbp=100, dbp=55, at=later(minutes=6))
        cases.handover(cast.osk, consult.uid, {"to": "emergency room"}, later(minutes=6))
        adopt(cast, with_adult_goal(80), later(minutes=7))
        cases.reopen(cast.merrin, consult.uid, {"reason": "still on the stretcher"}, later(minutes=8))
        consult.vitals(sbp=100, dbp=55, at=later(minutes=9))
        assert (aims(consult), consult.card["below_goal"]["mmhg_min"]) == ([65, 75, 80], 4 * 5 + 1 * 10)

        spine = {"patient": {"injuries": ["spinal_cord"]}}
        cases.patch_case(cast.osk, consult.uid, spine, later(minutes=9))
        assert aims(consult)[:3] == [65, 75, 80]
        assert len(aims(consult)) == 4
        assert not cards.differs(consult.row)

    @pytest.mark.parametrize(("dbp", "said"), [(55, "MAP below goal {}"), (30, "MAP critical, goal {}")])
    def test_an_alert_that_names_the_goal_names_the_new_one_at_once_and_asks_nobody_again(
        self, dbp: int, said: str, consult: Consult
    ) -> None:
        """MAP 63 or 47 stays below, or critical, with a goal of 65, of 70 (rules) and of 75 (the physician's)."""
        for minute in range(2):
            consult.vitals(sbp=80, dbp=dbp, at=later(minutes=minute))
        acknowledge(consult, at=later(minutes=2))
        assert low(consult)["text"] == said.format(65)

        adopt(consult.cast, with_adult_goal(70), later(minutes=3))
        assert low(consult)["text"] == said.format(70)
        goal = {"id": uuid4(), "measure": "map", "floor": 75, "reason": "chronic hypertension"}
        cases.set_goal(consult.cast.merrin, consult.uid, goal, later(minutes=4))

        assert low(consult)["text"] == said.format(75)
        assert low(consult)["acknowledged"]["by"] == "Dr. Merrin"
        row = Alert.objects.get(kind="low_pressure")
        assert (row.text, row.acknowledged_at) == (said.format(75), later(minutes=2))
        assert not cards.differs(consult.row)

    def test_another_limit_of_a_vital_sign_that_stands_asks_nobody_again_another_sign_does(
        self, consult: Consult
    ) -> None:
        consult.vitals(sbp=120, dbp=80, hr=38)
        acknowledge(consult, "vital_sign", at=later(minutes=1))
        text = DEMONSTRATION.text.replace(
            'danger_low = { value = 40, unit = "beats', 'danger_low = { value = 39, unit = "beats', 1
        )
        adopt(consult.cast, reader.loads(text.replace('name = "demonstration"', 'name = "own"', 1)), later(minutes=2))

        assert low(consult, "vital_sign")["text"] == "Heart rate dangerously slow (39 or less)"
        assert low(consult, "vital_sign")["acknowledged"]
        consult.vitals(sbp=120, dbp=80, hr=190, at=later(minutes=3))
        assert low(consult, "vital_sign")["acknowledged"] is None

    def test_a_case_that_has_ended_keeps_its_rules_until_it_is_reopened(self, consult: Consult) -> None:
        cast = consult.cast
        cases.handover(cast.osk, consult.uid, {"to": "emergency room"}, NOON)
        adopt(cast, now=later(minutes=1))
        assert consult.card["rule_set"]["digest"] == DEMONSTRATION.digest

        cases.reopen(cast.merrin, consult.uid, {"reason": "still on the stretcher"}, later(minutes=2))
        assert consult.card["rule_set"] == {**CONSERVATIVE.label, "approved": True}
        assert checks.guidance(cast.osk, consult.uid, later(minutes=2))["rule_set"] == CONSERVATIVE.label

    def test_a_new_case_is_judged_by_the_set_in_force(self, cast: Cast) -> None:
        adopt(cast)

        assert open_consult(cast).card["rule_set"] == {**CONSERVATIVE.label, "approved": True}


def aims(consult: Consult) -> list[float]:
    """The MAP goals that were in force, as the card has them."""
    return [each["map_floor"] for each in consult.card["goals"]]


def low(consult: Consult, kind: str = "low_pressure") -> dict[str, Any]:
    """The open alert of one kind, as the card has it."""
    (found,) = [alert for alert in consult.card["alerts"] if alert["kind"] == kind]
    return found


def acknowledge(consult: Consult, kind: str = "low_pressure", *, at: Any) -> None:
    alerts.acknowledge(consult.cast.merrin, UUID(low(consult, kind)["id"]), {"id": uuid4()}, at)


def another(rules: Any, version: str, **more: Any) -> Any:
    """A rule set of this name and version with another title."""
    return reader.loads(json.dumps({**rules.content, "version": version, "title": "Another", **more}))


def with_adult_goal(floor: float) -> Any:
    """The demonstration rules with another MAP goal for adults."""
    text = (reader.SHIPPED / "demonstration.toml").read_text(encoding="utf-8")
    goal = 'floor = {}\nbecause = "adult"\n'
    assert text.count(goal.format(65)) == 1
    text = text.replace('name = "demonstration"', f'name = "goal {floor}"', 1)
    return reader.loads(text.replace(goal.format(65), goal.format(floor)))


class TestTwoAgencies:
    def test_the_same_proposal_is_judged_by_the_rules_of_each(self, cast: Cast) -> None:
        """A push of 6 mcg lies below the least of 10 mcg by the one set, above that of 5 mcg by the other."""
        other = Agency.objects.get(pk=cast.tarn.agency)
        other.rule_set = rule_sets.shipped("conservative")
        other.save()
        here, there = open_consult(cast), _opened_there(cast)

        judged = [
            checks.check_proposal(crew, case, SMALL_PUSH, NOON)
            for crew, case in ((cast.osk, here.uid), (cast.tarn, there))
        ]

        assert [("below_least" in codes(answer)) for answer in judged] == [True, False]
        assert [answer.rule_set.name for answer in judged] == ["demonstration", "conservative"]


def _opened_there(cast: Cast) -> Any:
    opened = cases.open_case(cast.tarn, {"opened_at": NOON, "patient": ADULT, "impression": "septic"}, NOON)
    return opened.resource.id


class TestADirectorByName:
    @pytest.fixture
    def directed(self, cast: Cast) -> Any:
        from consult.actions import accounts

        user = accounts.make_person("sorrel", "Dr. Linnea", "Sorrel", "a long pass phrase")
        here, there = (Agency.objects.get(pk=each.agency) for each in (cast.sorrel, cast.vane))
        accounts.make_member(here, "director", user=user)
        return user, there

    def test_the_only_agency_need_not_be_named(self, directed: Any) -> None:
        assert access.director_named("sorrel").role == "director"

    def test_of_several_one_must_be_named(self, directed: Any) -> None:
        from consult.actions import accounts

        user, there = directed
        accounts.make_member(there, "director", user=user)

        with pytest.raises(problems.Invalid, match=r"'Brindle Vale', 'Harrow Fen': name one by --agency"):
            access.director_named("sorrel")
        assert access.director_named("sorrel", "Harrow Fen").agency == there.pk

    def test_a_physician_elsewhere_directs_nothing_there(self, directed: Any) -> None:
        from consult.actions import accounts

        user, there = directed
        accounts.make_member(there, "physician", user=user)

        with pytest.raises(problems.Forbidden, match="not medical director of 'Harrow Fen', but of 'Brindle Vale'"):
            access.director_named("sorrel", "Harrow Fen")
        assert access.director_named("sorrel").agency != there.pk
