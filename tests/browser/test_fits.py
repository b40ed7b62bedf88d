"""Every page in a narrow, the usual and a wide font, on desks and phones: nothing is cut, nothing scrolls sideways."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from consult import access, clock
from consult.actions import accounts, containers, questions
from consult.models import Agency, User
from tests import depth
from tests.browser.conftest import SignIn, Team, Transport
from tests.browser.large_pages import leave_some

# A font that is set smaller is narrower; DejaVu Sans is among the widest there are.
FONTS = {"narrow": "Narrow", "usual": "", "wide": '"DejaVu Sans"'}
FACES = "".join(
    f"@font-face {{ font-family: Narrow; font-weight: {weight}; src: local('{name}'); size-adjust: 85%; }}"
    for weight, name in ((400, "DejaVu Sans"), (700, "DejaVu Sans Bold"))
)
FAULTS = (Path(__file__).parent / "fits.js").read_text()
# One size in all fonts: each is set, the page is told and drawn, and then looked at; the last one stays.
IN_EACH_FONT = """async ([faces, fonts]) => {
  const faults = FAULTS;
  const drawn = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done))); // its observers, too
  const found = [];
  for (const [name, font] of Object.entries(fonts)) {
    document.getElementById("tried-font")?.remove();
    if (font) {
      const sheet = Object.assign(document.createElement("style"), { id: "tried-font" });
      sheet.textContent = `${faces} :root { --font: ${font} !important; }`;
      document.head.append(sheet);
      await Promise.all([400, 700].map((weight) => document.fonts.load(`${weight} 16px ${font}`)));
    }
    dispatchEvent(new Event("resize"));
    await drawn();
    let here = faults();
    if (here.length) {
      await drawn(); // cards may be packed a frame later
      here = faults();
    }
    found.push(...here.map((fault) => `${name} font: ${fault}`));
  }
  return found;
}""".replace("FAULTS", FAULTS)
DESKS = ((1920, 1080), (1440, 900), (1366, 768), (1024, 768))
PHONES = ((390, 844), (360, 740))
EVERY = DESKS + PHONES
USUAL = EVERY if depth.NIGHT else ((1024, 768), (360, 740))
SOME = ((1440, 900), *PHONES) if depth.NIGHT else PHONES[1:]
NARROWEST = ((1440, 900), (1024, 768), (360, 740)) if depth.NIGHT else ((1024, 768), (360, 740))
SHOWN = ("norepinephrine-infusion", "crystalloid-bolus", "epinephrine-push-dose", "naloxone", "other")


def faults(page: Page, sizes: tuple[tuple[int, int], ...] = USUAL) -> list[str]:
    """What does not fit on an open page, with font and width; the page is resized, not loaded again."""
    page.evaluate("() => { for (const each of document.querySelectorAll('details:not(.menu)')) each.open = true; }")
    found = []
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        fonts = FONTS if depth.NIGHT else {"wide": FONTS["wide"]}  # in which least fits
        found += [f"{page.url} at {width} px, {fault}" for fault in page.evaluate(IN_EACH_FONT, [FACES, fonts])]
    return found


@pytest.fixture
def look(sign_in: SignIn) -> Callable[..., list[str]]:
    """Go to pages as somebody of the team and tell what does not fit on any of them."""

    def looked(who: str, *paths: str, sizes: tuple[tuple[int, int], ...] = USUAL) -> list[str]:
        page = sign_in(who, paths[0], bypass_csp=True)
        found = faults(page, sizes)
        for path in paths[1:]:
            page.goto(page.url.partition("/")[0] + "//" + page.url.split("/")[2] + path)
            found += faults(page, sizes)
        return found

    return looked


@pytest.fixture
def busy(transport: Transport) -> Transport:
    """As much as a case can show: long words, two alerts, doses, a syringe, orders, a question with its form."""
    from consult.actions import cases

    long = "chest pressure since the morning, cold and sweating, found on the kitchen floor"
    journey = {"complaint": long, "destination": "Brindle Vale Heart Center, second entrance"}
    cases.patch_case(transport.team.osk, transport.uid, {"id": uuid4(), **journey}, clock.now())
    transport.vitals(sbp=131, dbp=104, bp_method="cuff", hr=138, spo2=97, etco2=150, rr=26)
    transport.vitals(sbp=74, dbp=44, bp_method="cuff", hr=250, spo2=82, rr=120, cap_refill_s=4, lactate_mmol_l=4.3)
    transport.give(100, voice_order={"physician": "merrin", "at": clock.now()})
    mixed = {
        "treatment": "epinephrine-push-dose",
        "form": "syringe",
        "strength": {"value": 10, "unit": "mcg/mL"},
        "volume": {"value": 10, "unit": "mL"},
    }
    now = clock.now()
    containers.record_container(transport.team.osk, transport.uid, {"id": uuid4(), "at": now, **mixed}, now)
    transport.decide(transport.ask(20), transport.team.merrin, decision="approve", reason="agreed")
    transport.ask(30)
    form = {"minutes": 32, "rhythm": "Pulseless VT", "etco2": 8, "criteria": ["no-shock"]}
    put = {"topic": "end_resuscitation", "text": "No change for half an hour. Go on?", "form": form}
    questions.ask(transport.team.osk, transport.uid, {"id": uuid4(), "at": now, **put}, now)
    told = {"text": "Sit him up, legs low; second line on the other arm before the next hospital."}
    questions.instruct(transport.team.merrin, transport.uid, {"id": uuid4(), "at": now, **told}, now)
    return transport


PLANTED = {
    "cut": "<p class='try-cut'>blood pressure 120/80 mmHg</p>",
    "cut below": "<p class='try-low'>one line<br>and another</p>",
    "outside its box": "<p class='try-out'>unbreakable-name-of-a-drug</p>",
    "over another text": "<p>norepinephrine infusion</p><p class='try-over'>phenylephrine push dose</p>",
    "word broken": "<p class='try-break'>norepinephrine infusion</p>",
    "scrolls sideways": "<p class='try-scroll'>norepinephrine infusion by pump</p>",
    "sideways": "<p class='try-wide'>wide</p>",
}
PLANTED_STYLE = """p { margin: 0; }
.try-cut { width: 4rem; overflow: hidden; white-space: nowrap; text-overflow: ellipsis; }
.try-low { height: 1.2em; overflow: hidden; } .try-out, .try-break, .try-scroll { width: 3rem; }
.try-out, .try-scroll { white-space: nowrap; } .try-over { margin-top: -1.2em; } .try-break { overflow-wrap: anywhere; }
.try-scroll { overflow-x: auto; } .try-wide { width: 200vw; }"""


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_is_found(page: Page, fault: str):
    page.set_content(f"<style>{PLANTED_STYLE}</style><main>{PLANTED[fault]}</main>")

    assert fault in {found.partition(":")[0] for found in page.evaluate(FAULTS)}


def test_a_page_that_fits_has_no_fault(page: Page):
    page.set_content("<main><h1>Kestrel 2</h1><p>58 y male, 80 kg stated</p></main>")

    assert page.evaluate(FAULTS) == []


def test_an_empty_board(look: Callable[..., list[str]], team: Team):
    assert look("merrin", "/board/") == []


@pytest.mark.parametrize("density", ["roomy", "dense"])
def test_the_board_roomy_and_dense_with_a_form_open(sign_in: SignIn, busy: Transport, density: str):
    page = sign_in("merrin", "/board/", bypass_csp=True)
    page.locator(f"[data-set-density='{density}']").click()
    sizes = EVERY if depth.NIGHT else ((1440, 900), *USUAL)
    found = faults(page, sizes)
    page.locator("[data-form='change']").first.click()

    assert found + faults(page, sizes) == []


def test_the_case_page_with_each_of_its_forms(sign_in: SignIn, busy: Transport):
    page = sign_in("merrin", f"/cases/{busy.uid}/", bypass_csp=True)
    found = faults(page)
    for form in ("order", "instruction", "destination", "goal", "note", "close"):
        page.locator(f".tools [data-form='{form}']").click()
        found += faults(page, NARROWEST)

    assert found == []


def test_the_case_page_of_a_phone_says_whole_why_two_others_need_somebody(sign_in: SignIn, busy: Transport):
    from consult.actions import cases

    now = clock.now()
    quiet = {"id": uuid4(), "opened_at": now, "patient": {"age": {"value": 41, "unit": "years", "basis": "stated"}}}
    for case in ({**quiet, "id": uuid4()}, quiet):
        cases.open_case(busy.team.osk, case, now)
        Transport(busy.team, case["id"]).vitals(sbp=62, dbp=31, bp_method="cuff")
    page = sign_in("merrin", f"/cases/{quiet['id']}/", bypass_csp=True)

    expect(page.locator(".others summary")).to_contain_text("2 other patients need you: Kestrel 2")
    assert faults(page, PHONES) == []


def test_every_page_of_the_crew_and_every_kind_of_label(sign_in: SignIn, busy: Transport):
    """Whatever is linked from the crew's first page, a few treatments for all."""
    page = sign_in("osk", "/crew/", bypass_csp=True)
    root = page.url.removesuffix("/crew/")
    known, todo, found = {"/crew/"}, ["/crew/", f"/cases/{busy.uid}/label/vasopressin-infusion/"], []
    while todo:
        page.goto(root + todo.pop())
        found += faults(page, ((1024, 768), *PHONES) if depth.NIGHT else PHONES[1:])
        links = "() => [...document.querySelectorAll('a')].map((link) => link.getAttribute('href') || '')"
        for link in map(_told, page.evaluate(links)):
            if link and link not in known:
                known.add(link)
                todo.append(link)

    assert found == []
    assert len(known) > 25, "the crew's pages lead to each other"


def _told(link: str) -> str:
    """A link to a page of the crew or a label that is looked at, else nothing."""
    if not re.match(r"/crew/|/cases/[^/]+/label/|/containers/", link):
        return ""
    of = re.search(r"(?:/(?:give|mixed|label)/|treatment=)([a-z-]+)", link)
    return link if not of or of[1] in SHOWN else ""


def test_history_and_replay(look: Callable[..., list[str]], busy: Transport):
    assert look("averill", "/history/", f"/history/{busy.uid}/") == []


@pytest.mark.night
def test_rules_adoption_and_choice(
    look: Callable[..., list[str]], sign_in: SignIn, busy: Transport, password_hash: str
):
    director = User.objects.create(username="sorrel", first_name="Dr.", last_name="Sorrel", password=password_hash)
    accounts.make_member(Agency.objects.get(), "director", user=director)

    assert look("sorrel", "/rules/adopt/", "/choose/") == []
    page = sign_in("sorrel", "/rules/", bypass_csp=True)
    leave_some(page)
    assert faults(page, NARROWEST) == []


@pytest.mark.night
def test_a_draft_a_comparison_and_the_notice_of_it(look: Callable[..., list[str]], busy: Transport, password_hash: str):
    """The conservative rules have long rows; a draft of one number that only just holds, of one that makes no sense."""
    from consult.actions import rule_drafts, rule_sets
    from dosing.load import reader
    from dosing.rules.amended import Amendment, entry_in

    user = User.objects.create(username="sorrel", first_name="Dr.", last_name="Sorrel", password=password_hash)
    accounts.make_member(Agency.objects.get(), "director", user=user)
    sorrel = access.actor_for_user(user, None, clock.now())
    before, rules = (reader.load_shipped(name) for name in ("demonstration", "conservative"))
    rule_sets.adopt(sorrel, rules, clock.now(), reason="smaller boluses for children " * 5, by_way_of="page")
    entry = "treatments.crystalloid-bolus.bands.1.hard"
    told = {"text": "Protocol of the agency, second edition, page 12: " * 4, "mark": "second-hand", "reason": "agreed"}
    old = entry_in(rules.content, entry) or {}
    form = f"/rules/change/?part=crystalloid-bolus&entry={entry}"
    found = look("merrin", "/board/", f"/rules/compare/?before={before.digest}", sizes=NARROWEST)
    for value in ("1999", "1"):
        change = Amendment(entry=entry, numbers={"amount": (value, "mL")}, before=old, **told)
        rule_drafts.gather(sorrel, change)
        found += look("sorrel", form)

    assert found == []


@pytest.mark.night
def test_the_api_reference(look: Callable[..., list[str]], team: Team):
    assert look("merrin", "/api/v1/docs/", sizes=NARROWEST) == []


def test_signing_in_refusals_and_what_is_not_there(look: Callable[..., list[str]], team: Team):
    assert look("merrin", "/crew/", "/nothing/", "/sign-in/", "/account/password/") == []


@pytest.mark.night
def test_the_crews_pages_of_a_case_that_has_ended(look: Callable[..., list[str]], busy: Transport):
    from consult.actions import cases

    now = clock.now()
    cases.handover(busy.team.osk, busy.uid, {"id": uuid4(), "at": now, "to": "Brindle Vale Heart Center"}, now)
    pages = ("", "vitals/", "give/epinephrine-push-dose/", "handover/")

    assert look("osk", *(f"/crew/{busy.uid}/{page}" for page in pages), sizes=SOME) == []


@pytest.mark.night
def test_the_change_of_shift_a_move_and_what_changed_while_away(look: Callable[..., list[str]], busy: Transport):
    from consult.actions import cases, handovers
    from consult.models import LastLook, Membership

    team, now = busy.team, clock.now()
    cases.accept(team.merrin, busy.uid, {"take_over": True}, now)
    to = Membership.objects.get(pk=team.quillan.membership).user.username
    handovers.offer(team.merrin, {"to": to, "cases": [busy.uid], "note": "blood is on its way to bay 2"}, now)
    for who in (team.merrin, team.quillan):
        away = {"at": now, "away_since": now, "away_to": {str(busy.uid): None}}
        LastLook.objects.update_or_create(membership_id=who.membership, defaults=away)

    found = look("merrin", "/shift/")
    found += look("quillan", "/shift/", "/board/", f"/cases/{busy.uid}/")
    other = accounts.make_unit(Agency.objects.get(pk=team.osk.agency), "Plover 8, second vehicle")
    cases.move(team.merrin, busy.uid, {"unit": other.pk}, clock.now())
    pages = [f"/crew/{busy.uid}/", f"/crew/{busy.uid}/handover/", f"/cases/{busy.uid}/handover/", "/crew/"]
    assert found + look("osk", *pages, sizes=SOME) == []


@pytest.mark.night
def test_an_arrest_and_the_sheets_to_print(look: Callable[..., list[str]], busy: Transport):
    from consult.actions import notes

    now = clock.now()
    shock = {"procedure": "defibrillation", "outcome": "done", "settings": {"joules": 200}}
    notes.change_phase(busy.team.osk, busy.uid, {"id": uuid4(), "at": now, "phase": "arrest"}, now)
    notes.add_procedure(busy.team.osk, busy.uid, {"id": uuid4(), "at": now, **shock}, now)
    sheets = [f"/cases/{busy.uid}/handover/{paper}" for paper in ("", "?paper=receipt")]

    found = look("osk", f"/crew/{busy.uid}/", *sheets)
    assert found + look("merrin", "/board/", f"/cases/{busy.uid}/", "/board/downtime/") == []
