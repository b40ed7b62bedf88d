"""What is in hand on the pages: the crew's list, the forms that record and discard, the physician's table."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest

from consult import queries
from consult.actions import read_back
from consult.render import in_hand
from consult.render.journal import timeline
from dosing.held import oxygen
from tests.conftest import NOON, Consult, later
from tests.consult.test_containers import DRIP, PUSH, SIXTEEN, TestACylinder, hang, mix, throw
from tests.copying import replace
from tests.dosing.bedside import RULES
from tests.screens.conftest import Sign
from tests.screens.page_text import Element, read

pytestmark = pytest.mark.django_db


@pytest.fixture
def kestrel(signed_in: Sign, consult: Consult) -> Any:
    """Opens a page of the case as Kestrel 2's crew."""
    client = signed_in("osk")

    def get(path: str = "", status: int = 200) -> Element:
        answer = client.get(f"/crew/{consult.uid}/{path}")
        assert answer.status_code == status, path
        return read(answer.text)

    return get


def texts(consult: Consult) -> list[dict[str, Any]]:
    return in_hand.in_hand(consult.card)


class TestWords:
    def test_before_the_first_dose_the_limits_say_how_many(self, consult: Consult) -> None:
        mix(consult)
        (held,) = texts(consult)

        assert (held["left_text"], held["doses_text"]) == ("10 mL left", "5–10 doses of 10–20 mcg")
        assert held["by"] == "by J. Osk, not checked by a second person"

    def test_after_it_the_last_one_does(self, consult: Consult) -> None:
        mix(consult, checked_by="B. Lund")
        for minute in (1, 3):
            consult.give(PUSH, 20, "mcg", at=later(minutes=minute))
        (held,) = texts(consult)

        assert (held["left_text"], held["doses_text"]) == ("6 mL left", "3 doses of 20 mcg")
        assert (held["use"], held["by"]) == ("at recent pace", "by J. Osk, checked by B. Lund")

    def test_one_dose_is_one(self, consult: Consult) -> None:
        mix(consult)
        consult.give(PUSH, 50, "mcg", at=later(minutes=1))

        assert texts(consult)[0]["doses_text"] == "1 dose of 50 mcg"

    def test_what_is_used_up_is_empty(self, consult: Consult) -> None:
        mix(consult)
        consult.give(PUSH, 100, "mcg", at=later(minutes=1))

        assert (texts(consult)[0]["left_text"], texts(consult)[0]["doses_text"]) == ("empty", "")
        assert consult.card["in_hand"][0]["lasts_to"] is None

    def test_too_little_for_one_more_is_said(self, consult: Consult) -> None:
        mix(consult)
        consult.give(PUSH, 60, "mcg", at=later(minutes=1))

        assert texts(consult)[0]["doses_text"] == "less than one dose of 60 mcg"

    def test_a_bag_tells_its_rate(self, consult: Consult) -> None:
        hang(consult)
        (held,) = texts(consult)

        assert (held["left_text"], held["use"]) == ("250 mL", "at 30 mL/h")

    def test_a_dose_is_drawn_from_it_until_it_is_empty_or_past_its_time(self, consult: Consult) -> None:
        mix(consult)  # at noon; begun within 4 h (USP 797)

        assert [in_hand.ready(texts(consult)[0], later(minutes=minute)) for minute in (0, 239, 240)] == [
            True,
            True,
            False,
        ]
        consult.give(PUSH, 100, "mcg", at=later(minutes=1))
        assert not in_hand.ready(texts(consult)[0], later(minutes=2))
        assert not in_hand.ready(
            {**texts(consult)[0], "form": "bag", "left": {"value": 9, "unit": "mL"}}, later(minutes=2)
        )

    def test_who_mixed_it_is_no_second_person(self, consult: Consult) -> None:
        mix(consult, mixed_by="A. Osk", checked_by="a. osk ")

        assert texts(consult)[0]["by"] == "by A. Osk, not checked by a second person"

    def test_oxygen_is_checked_by_nobody(self, consult: Consult) -> None:
        mix(consult, **TestACylinder.CYLINDER, cylinder=TestACylinder.GAS)
        consult.vitals(oxygen_l_min=4)

        assert (texts(consult)[0]["by"], texts(consult)[0]["use"]) == ("by J. Osk", "at 4 L/min")

    def test_the_handover_names_it(self, consult: Consult) -> None:
        mix(consult)
        assert in_hand.spoken(consult.card) == "EPINEPHrine push dose 10 mcg per mL, 10 mL syringe, 10 mL left"

    def test_the_timeline_tells_it_from_mixing_to_discarding(self, consult: Consult) -> None:
        throw(consult, mix(consult), at=later(minutes=1), reason="Empty")
        mix(consult, **TestACylinder.CYLINDER, cylinder=TestACylinder.GAS)
        lines = {line["lead"]: line["text"] for line in timeline(consult.journal)}

        assert lines["Mixed"] == "EPINEPHrine push dose 10 mcg per mL, 10 mL syringe"
        assert lines["Discarded"] == "EPINEPHrine push dose 10 mcg per mL, 10 mL syringe · Empty"
        assert lines["Opened"] == "Oxygen, E cylinder, 1,200 psi"


class TestTheCrewsPages:
    def test_the_list_leads_to_each(self, consult: Consult, kestrel: Any) -> None:
        held = mix(consult)
        text = kestrel().text

        assert "In hand" in text
        assert "10 mL left: 5–10 doses of 10–20 mcg" in text
        assert f"/crew/{consult.uid}/in-hand/{held}/" in {link.attributes["href"] for link in kestrel().every("a")}

    @pytest.mark.usefixtures("at_noon")
    @pytest.mark.parametrize(
        ("volume", "crew", "desk", "runs"),
        [
            (250, ["Discard by 16:00:00", "would last to 20:20:00"], "discard by then", "discard by 16:00"),
            (100, ["Lasts to 15:20:00", "discard by 16:00:00"], "15:20 at 30 mL/h discard by 16:00", "lasts to 15:20"),
        ],
        ids=["discarded before it is empty", "empty before that"],
    )
    def test_the_earlier_of_its_two_ends_leads(
        self, volume: float, crew: list[str], desk: str, runs: str, consult: Consult, kestrel: Any, signed_in: Sign
    ) -> None:
        """At 30 mL/h 250 mL last 8 h 20 min and 100 mL 3 h 20 min; what was mixed at noon is discarded after 4 h."""
        held = hang(consult, 8, volume)
        rows, words = kestrel().one(data_part="in-hand").text, kestrel(f"in-hand/{held}/").text
        page = read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)

        assert all(each in rows for each in crew), rows
        assert rows.index(crew[0]) < rows.index(crew[1])
        first, second = (each.split()[-1] for each in crew)
        assert words.index(first) < words.index(second)
        assert desk in page.one("panel", data_part="in-hand").text
        assert runs in page.one("runs").text

    def test_what_runs_dry_says_so_from_then_on(self, consult: Consult, kestrel: Any, signed_in: Sign) -> None:
        """100 mL at 30 mL/h are empty 3 h 20 min after noon; the page's clock changes the words (core/times)."""
        held = hang(consult, 8, 100)
        pages = [kestrel(), kestrel(f"in-hand/{held}/"), read(signed_in("merrin").get(f"/cases/{consult.uid}/").text)]
        for page in pages:
            ends = page.every(data_ends=consult.card["in_hand"][0]["lasts_to"])
            told = {each.attributes["data-after"] for each in ends}
            assert "empty since 15:20, by its rate" in told, told

    def test_without_anything_there_is_no_list(self, kestrel: Any) -> None:
        assert "In hand" not in kestrel().text

    def test_a_dose_too_many_is_told(self, consult: Consult, kestrel: Any) -> None:
        mix(consult)
        consult.give(PUSH, 120, "mcg", at=later(minutes=1))

        assert "Drawn 12 mL of a 10 mL syringe: a dose is double or missing" in kestrel().text

    def test_the_dose_page_shows_its_own_and_leads_to_mixing(self, consult: Consult, kestrel: Any) -> None:
        mix(consult)
        hang(consult)
        page = kestrel(f"give/{PUSH}/")

        assert "EPINEPHrine push dose 10 mcg per mL, 10 mL syringe" in page.text
        assert "250 mL bag" not in page.text
        assert f"/crew/{consult.uid}/mixed/{PUSH}/" in {link.attributes["href"] for link in page.every("a")}

    def test_a_fluid_is_hung_not_mixed(self, kestrel: Any) -> None:
        page = kestrel("give/crystalloid-bolus/")

        assert "Mixed: record it" not in page.text
        assert "container_ml" in {field.attributes.get("name") for field in page.every("input")}

    @pytest.mark.parametrize(
        ("treatment", "known"),
        [
            (PUSH, {"strength": "10 mcg/mL", "volume.value": "10", "form": "syringe"}),
            ("phenylephrine-push-dose", {"strength": "100 mcg/mL", "volume.value": "10", "form": "syringe"}),
            (DRIP, {"volume.value": None, "form": None}),
        ],
    )
    def test_the_recipe_fills_the_form(self, kestrel: Any, treatment: str, known: dict[str, Any]) -> None:
        """Two taps: the recipe's strength and volume, now, under one's own name (reference/rules, push dose)."""
        page = kestrel(f"mixed/{treatment}/")
        fields = {field.attributes["name"]: field.attributes for field in page.every("input")}
        chosen = [field.attributes["value"] for field in page.every("input") if "checked" in field.attributes]

        assert fields["mixed_by"]["value"] == "J. Osk"
        assert fields["checked_by"].get("value") is None
        assert fields["volume.value"].get("value") == known["volume.value"]
        assert [value for value in chosen if value != "0"] == ([known["form"]] if known["form"] else [])
        if "strength" in known:
            assert fields["strength"]["value"] == known["strength"]

    @pytest.mark.parametrize("treatment", ["crystalloid-bolus", "blood-product", "moonshine"])
    def test_what_is_not_mixed_has_no_such_page(self, kestrel: Any, treatment: str) -> None:
        kestrel(f"mixed/{treatment}/", status=404)

    def test_the_page_of_one_says_all_of_it(self, consult: Consult, kestrel: Any) -> None:
        text = kestrel(f"in-hand/{mix(consult, checked_by='B. Lund')}/").text

        assert "10 mL left: 5–10 doses of 10–20 mcg" in text
        assert "by J. Osk, checked by B. Lund" in text

    def test_what_is_discarded_says_so(self, consult: Consult, kestrel: Any) -> None:
        held = mix(consult)
        throw(consult, held, at=NOON, reason="Past its discard time")

        page = kestrel(f"in-hand/{held}/")
        told = page.one(data_part="what")
        assert "Discarded" in told.text
        assert "Past its discard time" in told.text
        assert told.one("time").attributes["datetime"] == "2030-01-05T12:00:00Z"
        assert not page.every("form")
        kestrel(f"in-hand/{uuid4()}/", status=404)

    def test_the_cylinder_form_knows_the_published_sizes(self, kestrel: Any) -> None:
        page = kestrel("cylinder/")
        sizes = [
            field.attributes["value"] for field in page.every("input") if field.attributes["name"] == "cylinder.size"
        ]

        assert sizes == ["D", "E", "M", "G", "H", "K"]

    def test_it_can_be_marked_as_entered_in_error(self, consult: Consult, kestrel: Any) -> None:
        held = mix(consult)
        targets = [
            each.attributes["value"]
            for each in kestrel("correction/").every("input")
            if each.attributes["name"] == "target"
        ]

        assert targets == [f"container {held}"]

    def test_how_long_and_down_to_what_come_from_where_they_are_kept_with_their_source(
        self, kestrel: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        mixed, opened = kestrel(f"mixed/{PUSH}/").text, kestrel("cylinder/").text
        assert "discard after 4 h or at handover" in mixed
        assert "4 h: USP chapter 797, 2023: what is mixed for immediate use is begun within 4 h [second-hand]" in mixed
        assert "down to a reserve of 200 psi" in opened
        assert "200 psi: State EMS office: oxygen cylinder guidance, October 2010" in opened

        ledger = replace(RULES.ledger, discard_after_h=6)
        monkeypatch.setattr(queries, "rules_of", lambda _case: replace(RULES, ledger=ledger))
        monkeypatch.setitem(oxygen._TABLES["reserve"], "psi", 300)
        assert "discard after 6 h" in kestrel(f"mixed/{PUSH}/").text
        assert "a reserve of 300 psi" in kestrel("cylinder/").text

    @pytest.mark.parametrize("who", ["lund", "merrin", "tarn"])
    def test_they_are_the_units_alone(self, consult: Consult, signed_in: Sign, who: str) -> None:
        held = mix(consult)
        for path in (f"mixed/{PUSH}/", "cylinder/", f"in-hand/{held}/"):
            assert signed_in(who).get(f"/crew/{consult.uid}/{path}").status_code in (403, 404)


class TestThePhysiciansPage:
    def page(self, consult: Consult, signed_in: Sign) -> str:
        return read(signed_in("merrin").get(f"/cases/{consult.uid}/").text).text

    def test_it_shows_what_is_left_and_to_when(self, consult: Consult, signed_in: Sign) -> None:
        mix(consult, checked_by="B. Lund")
        consult.give(DRIP, 8, "mcg/min", status="running", concentration=SIXTEEN, container_ml=50)
        text = self.page(consult, signed_in)

        assert "norepinephrine infusion 16 mcg per mL, 50 mL syringe" in text
        assert "13:40" in text
        assert "10 mL left" in text

    def test_without_anything_there_is_no_table(self, consult: Consult, signed_in: Sign) -> None:
        assert "In hand" not in self.page(consult, signed_in)

    def test_a_dose_too_many_is_on_the_board_too(self, consult: Consult, signed_in: Sign) -> None:
        mix(consult)
        consult.give(PUSH, 120, "mcg", at=later(minutes=1))
        note = "drawn 12 mL of a 10 mL syringe: a dose is double or missing"

        assert "Drawn 12 mL of a 10 mL syringe: a dose is double or missing" in self.page(consult, signed_in)
        assert f"EPINEPHrine push dose: {note}" in read(signed_in("merrin").get("/board/").text).text


def test_ids_are_those_of_the_entries(consult: Consult) -> None:
    drip = hang(consult)
    assert [UUID(line["id"]) for line in consult.card["in_hand"]] == [drip]


class TestWhereAPushIsDrawnFrom:
    """All volumes of a push page are of one strength, so that no step on it can be ticked for another."""

    TWENTY = {"value": 20, "unit": "mcg/mL"}

    def sources(self, kestrel: Any, query: str = "") -> tuple[list[str], list[str], list[str]]:
        """What can be ticked on the page, the volume of 20 mcg and what an entry says of it, where else to draw."""
        page = kestrel(f"give/{PUSH}/{query}")
        ticked = [each.text for recipe in page.every("recipe") for each in recipe.every("label")]
        dose = next(each for each in page.every("pick") if each.text.startswith("20 mcg"))
        sent = [each for each in page.every("input") if each.attributes.get("name") in ("stock", "container")]
        others = [each for nav in page.every("nav", id="drawn-from") for each in nav.every("a")]
        return ticked, [dose.text, *(str(each.attributes["value"]) for each in sent)], [each.text for each in others]

    def test_the_recipe_and_a_syringe_of_it_stand_side_by_side(
        self, consult: Consult, kestrel: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("consult.screens.doses_and_orders.clock.now", lambda: later(minutes=1))
        mix(consult)
        ticked, dose, others = self.sources(kestrel)

        assert others == []
        assert dose == ["20 mcg 2 mL"]
        assert "Label for a new one to print" in kestrel(f"give/{PUSH}/").text
        assert ticked[0].startswith("In hand: EPINEPHrine push dose 10 mcg per mL")
        assert any("prefilled" in each for each in ticked)
        assert any("Draw 9 mL of saline" in each for each in ticked)

    def test_of_several_strengths_in_hand_the_recipes_stands_first_and_each_can_be_chosen(
        self, consult: Consult, kestrel: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """20 mcg are 1 mL of 20 mcg/mL: of the 10 mcg/mL that the recipe makes they are 2 mL."""
        monkeypatch.setattr("consult.screens.doses_and_orders.clock.now", lambda: later(minutes=1))
        mix(consult)
        other = mix(consult, strength=self.TWENTY, at=later(minutes=1))
        ticked, dose, others = self.sources(kestrel)

        assert others == ["10 mcg per mL in hand, 10 mL left", "20 mcg per mL in hand, 10 mL left"]
        assert dose == ["20 mcg 2 mL", "10 mcg/mL"]
        assert ticked[0].startswith("In hand: EPINEPHrine push dose 10 mcg per mL")
        assert not any("20 mcg per mL" in each for each in ticked)

        ticked, dose, _ = self.sources(kestrel, "?from=20%20mcg/mL")
        assert dose == ["20 mcg 1 mL", str(other)]
        assert [each[:54] for each in ticked] == ["In hand: EPINEPHrine push dose 20 mcg per mL, 10 mL sy"]

        throw(consult, other, at=later(minutes=2), reason="Empty")
        monkeypatch.setattr("consult.screens.doses_and_orders.clock.now", lambda: later(minutes=3))
        assert self.sources(kestrel)[2] == []

    def test_one_of_another_strength_stands_before_a_new_one(
        self, consult: Consult, kestrel: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("consult.screens.doses_and_orders.clock.now", lambda: later(minutes=1))
        other = mix(consult, strength=self.TWENTY)
        ticked, dose, others = self.sources(kestrel)

        assert others == ["20 mcg per mL in hand, 10 mL left", "New: 10 mcg per mL by the recipe"]
        assert dose == ["20 mcg 1 mL", str(other)]
        assert len(ticked) == 1
        assert "Label for a new one to print" not in kestrel(f"give/{PUSH}/").text

        ticked, dose, _ = self.sources(kestrel, "?from=10%20mcg/mL")
        assert dose == ["20 mcg 2 mL", "10 mcg/mL"]
        assert any("Draw 9 mL of saline" in each for each in ticked)

    def test_the_strength_that_was_read_back_stands_first(
        self, consult: Consult, kestrel: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("consult.screens.doses_and_orders.clock.now", lambda: later(minutes=1))
        other = mix(consult, strength=self.TWENTY)
        mix(consult, at=later(minutes=1))
        order = UUID(consult.ask(20, by=consult.cast.merrin).resource.id)
        said = {"treatment": PUSH, "route": "IV", "strength": self.TWENTY, "volume": {"value": 1, "unit": "mL"}}
        read_back.read_back(consult.cast.osk, order, {"id": uuid4(), **said}, NOON)
        _, dose, others = self.sources(kestrel, f"?order={order}")

        assert [str(each)[:13] for each in others] == ["20 mcg per mL", "10 mcg per mL"]
        assert dose == ["20 mcg 1 mL", str(other)]

    def test_a_dose_is_checked_and_drawn_from_what_the_page_says(self, consult: Consult) -> None:
        right = mix(consult)
        other = mix(consult, strength=self.TWENTY, at=later(minutes=1))
        told = [
            consult.give(PUSH, 20, "mcg", at=later(minutes=2), stock={"value": 10, "unit": "mcg/mL"}),
            consult.give(PUSH, 20, "mcg", at=later(minutes=5), container=other),
        ]
        left = {line["id"]: line["left"]["value"] for line in consult.card["in_hand"]}

        assert [each.resource.check.give.volume.value for each in told] == [2, 1]
        assert left == {str(right): 8, str(other): 9}
