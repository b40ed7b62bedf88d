"""Run by `test_texts.py` in a process in which the code says everything in the pseudo-language: what the pages of every
role say in no brackets, and what is no data either."""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from consult.screens.crew_not_sent import WEIGHT, WHO
from dosing.load.reader import load_shipped
from dosing.rules.words import MARKS
from tests.conftest import Cast
from tests.depth import NIGHT, thinned
from tests.error_prone import said, seen
from tests.screens.conftest import Sign
from tests.screens.pseudo import bare
from tests.screens.test_no_error_prone_notation_is_shown import ADDRESSES, PEOPLE, Places, small, troubled

DOSING = Path(__file__).resolve().parents[2] / "dosing"
PEOPLE_AND_UNITS = ("Brindle Vale", "Kestrel 2", "Plover 8", "J. Osk", "B. Lund", "Dr. Merrin", "Dr. Quillan", "JO")
PEOPLE_AND_UNITS += ("N. Averill", "Dr. Sorrel")
TYPED = ("weak, pale", "Go on?", "Sit her up.", "cefazolin", "no response to fluid", "asystole")
TYPED += (WHO, WEIGHT)  # a page puts in place of them what was typed on it
OUR_NAMES = ("Consult Board", "demonstration", "conservative", "JSON Schema", "JavaScript", "toml")
# What stands with numbers: units, routes, abbreviations of the trade, months of a date.
WITH_NUMBERS = re.findall(
    r"\S+",
    """mcg mg g kg mL L dL mmol mEq unit units bag bags kcal min h s d y mo mm mmHg psi bar mA J G C F UTC A4 ISO
per dose doses push pushes points times IV IO IM IN SC ET PO MAP SBP HR RR GCS BP PEA VF VT CPR ECG SpO2 EtCO2 AVPU
Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec""",
)
A_NUMBER = re.compile(r"\b[0-9a-f]{12}\b|[0-9]\w*(?:[.,:/–-][0-9]\w*)*")  # the digest of a rule set is one, too
A_WORD = re.compile(r"[A-Za-zÀ-ÿ]{2,}")


def texts_of(value: Any) -> Iterator[str]:
    """Every text within, and every name of an entry."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, each in value.items():
            yield name.replace("-", " ").replace("_", " ")
            yield from texts_of(each)
    elif isinstance(value, list):
        for each in value:
            yield from texts_of(each)


def of_rules() -> set[str]:
    """What rule sets and tables say themselves, but for single words in small letters: those are codes.

    Of these the names of drugs, products, allergens and indications are texts all the same.
    """
    found = {text for file in DOSING.rglob("*.toml") for text in texts_of(tomllib.loads(file.read_text("utf-8")))}
    rules = load_shipped("demonstration")
    names = (
        {each.because or each.name for each in rules.goals}
        | {each.name for each in rules.products}
        | {each.because for each in rules.watch.high_pressure}
    )
    for treatment in rules.treatments.values():
        names |= {treatment.drug, treatment.slug, *treatment.allergens, *treatment.indications}
        names |= {drug for apart in treatment.apart for drug in apart.drugs}
        names |= {name for fluid in treatment.fluids for name in (fluid.name, *fluid.names)}
        names |= {each.title for each in treatment.indications.values()} | {
            each.name or "" for each in treatment.stocks
        }
    labels = tomllib.loads((DOSING / "mix/labels.toml").read_text("utf-8"))
    names |= {*labels, *(each.get("color", "") for each in labels.values())}
    return {text for text in found if " " in text or not text.islower()} | names | {f"[{mark}]" for mark in MARKS}


def either(texts: Any, around: str) -> re.Pattern[str]:
    longest_first = sorted(filter(None, texts), key=len, reverse=True)
    words = "|".join(map(re.escape, longest_first))
    return re.compile(rf"(?<!{around})(?:{words})(?!{around})", re.IGNORECASE)


DATA = either({*of_rules(), *PEOPLE_AND_UNITS, *TYPED, *OUR_NAMES}, r"\w")
UNITS = either(WITH_NUMBERS, r"[A-Za-z]")


@cache
def unmarked(text: str) -> str:
    """What is left of a text without what is marked, data, numbers and units; nothing where that holds no word."""
    left = UNITS.sub(" ", A_NUMBER.sub(" ", DATA.sub(" ", bare(text))))
    return " ".join(left.split()) if A_WORD.search(left) else ""


def texts_on(html: str) -> Iterator[str]:
    """What a person sees, and what scripts are handed to show later: in attributes, and as JSON."""
    yield from seen(html)
    yield from re.findall(r'\sdata-[a-z-]+="([A-Z⟦][^"]* [^"]*)"', html)
    for told in re.findall(r'<script id="(?!texts")[^>]*type="application/json"[^>]*>(.*?)</script>', html, re.DOTALL):
        yield from (text for text in said(json.loads(told)) if " " in text)


def pages(client: Client, places: list[Places], readers: Counter[str]) -> Iterator[tuple[str, str]]:
    """What this person may open; by day only what nobody before has opened, as it reads much the same."""
    opened: set[str] = set()
    for address in ADDRESSES:
        if address.startswith("api/") or (readers[address] and not NIGHT):
            continue
        paths = sorted({path for place in places for path in place.fill(address)})
        for path in thinned(paths, every=max(1, len(paths) // 2)):
            answer = client.get(path)
            if answer.status_code == 200 and "html" in answer["Content-Type"]:
                opened.add(address)
                yield path, answer.content.decode()
    readers.update(opened)


@pytest.mark.timeout(900)
@pytest.mark.django_db
def test_pages_of_every_role(cast: Cast, signed_in: Sign) -> None:
    some = ("crystalloid-bolus", "epinephrine-push-dose", "norepinephrine-infusion", "blood-product", "fentanyl")
    places = [Places(troubled(cast), some), Places(small(cast), some[:2])]
    found: dict[str, str] = {}
    readers: Counter[str] = Counter()
    for name in PEOPLE:
        for path, html in pages(signed_in(name), places, readers):
            for text in texts_on(html):
                if not text.startswith("{") and (left := unmarked(text)):
                    found.setdefault(left, f"{path}: {text}")
    Path(os.environ["UNMARKED"]).write_text(json.dumps(found, ensure_ascii=False, indent=1), encoding="utf-8")
