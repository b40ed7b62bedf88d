"""What an allergy on record means: of which class what is told is, and whether it is one at all."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from functools import cache, lru_cache
from typing import NamedTuple

from dosing.check.how_long_ago import hours_ago
from dosing.ground.tables import load
from dosing.rules.names import named, spoken, words_of
from dosing.rules.rule_set import RuleSet, Treatment

CLASSES_ELSEWHERE = frozenset(
    table["drug_class"] for table in load("check/allergies").values() if "drug_class" in table
)  # those of drugs that a rule set may lack
ELECTROLYTE = "electrolyte"  # its class: what is deadly undiluted
_APART = re.compile(
    r"[,;/]|\.\s|(?<=\bNKDA) |(?<=\bNKA) |(?<=known allergies) | (?:but|except|other than|apart from|besides) ",
    re.IGNORECASE,
)
# "no known allergies", "denies drug allergy", "NKDA"; a bare "no morphine" is no denial: it may be the allergy itself.
_DENIED = re.compile(
    r"\W*(?:nkd?a|nkma|nil|none|denies|denied|not allergic|(?:no|nil|none|without)(?: any)? known"
    r"|(?:no|without)(?: \w+){0,3} (?:allerg(?:y|ies|ic)|reactions?|sensitivit(?:y|ies)))\b",
    re.IGNORECASE,
)
# of a disease: the word after it alone, and those that "or" joins
_NO = re.compile(
    r"\b(?:no|without|denies|denied)(?:\W+(?:any|known|prior|previous|past|old|acute|recent|family|personal|history|hx|of"
    r"|evidence|signs?|use|used|using|taking|took|taken|having|had|a|the))*\W+\w+(?:\W+n?or\W+\w+)*",
    re.IGNORECASE,
)
# of any: "no allergy to morphine" says nothing of others
_NONE_AT_ALL = re.compile(
    r"\W*(?:nkd?a|nkma|(?:nil|none)(?: known)?|(?:(?:pt|patient) )?(?:no|nil|none|without|denies|denied)(?: any)?"
    r"(?: known)?(?: (?:drug|food|medication|medicine|other|or|and)s?)* allerg(?:y|ies)(?: known)?)\W*",
    re.IGNORECASE,
)


class Told(NamedTuple):
    """An allergy as it was told, the classes and drugs that it names, and whether anything of it was recognized.

    ``perhaps`` are classes that it is of by how old it is, which it does not say, or by how grave.
    """

    text: str
    names: frozenset[str]
    recognized: bool
    perhaps: frozenset[str] = frozenset()


@lru_cache(maxsize=1024)
def told(text: str, rules: RuleSet) -> tuple[Told, ...]:
    """The allergies in a text, each part by itself; a denial is none.

    Drugs are known by the names that the rule set has for them too.
    """
    return tuple(_part(part, text, rules) for part in _parts(text) if not _DENIED.match(part))


@lru_cache(maxsize=1024)
def diseases(text: str) -> tuple[Told, ...]:
    """What of a complaint or a rhythm forbids a drug; a name in capitals alone, as ALS, says too little there."""
    parts = ((part, *_diseases(part, text, prose=True)) for part in _parts(text))
    return tuple(Told(part, names, bool(names), perhaps) for part, names, perhaps in parts if names or perhaps)


def _parts(text: str) -> list[str]:
    return [part.strip() for part in _APART.split(text) if part.strip()]


def none_known(texts: Collection[str]) -> bool:
    """Whether all that was told is that there is none: "NKDA", "no known allergies"."""
    return bool(texts) and all(_NONE_AT_ALL.fullmatch(text) for text in texts)


def bars(allergy: Told, treatment: Treatment) -> bool:
    """Whether it is one to the treatment: to what its rule set names, or to its drug where that names anything."""
    return bool(treatment.allergens) and not allergy.names.isdisjoint(treatment.allergens | {treatment.drug})


@lru_cache(maxsize=1024)
def class_elsewhere(name: str, rules: RuleSet) -> str:
    """The class of a drug that the rule set lacks, as of morphine; else "". Those that it has are its own to class."""
    words = spoken(_american(name))
    if named(name, rules) is not None:
        return ""
    tables = load("check/allergies")
    return next((tables[slug].get("drug_class", "") for slug, each in _by_name() if each in words), "")


def recognized(name: str, rules: RuleSet) -> bool:
    """Whether a drug that is told by a name is one of the rule set, or of a class that another may not meet."""
    words = spoken(_american(name))
    return named(name, rules) is not None or any(each in words for _slug, each in _by_name())


def forbids(allergy: Told, treatment: Treatment) -> bool:
    """Whether it is one that no order makes right, as malignant hyperthermia with succinylcholine."""
    return not allergy.names.isdisjoint(treatment.allergens & _forbidding())


@cache
def _forbidding() -> frozenset[str]:
    tables = load("check/allergies").items()
    return frozenset(slug for slug, table in tables if table.get("forbids") or table.get("asks"))


def unsure(allergy: Told, treatment: Treatment) -> bool:
    """Whether it may bar the treatment, by how long ago it was, which was not told, or by how grave it is."""
    return not allergy.perhaps.isdisjoint(treatment.allergens)


def _part(part: str, whole: str, rules: RuleSet) -> Told:
    words = spoken(_american(part))
    classes = {name for name, each in _by_name() if each in words and name not in _forbidding()}
    sick, perhaps = _diseases(part, whole)
    known = named(part, rules)
    drugs = set(known.drugs if known else ())
    plain = {word.removesuffix("s") for word in words.split()}
    allergens = {each for treatment in rules.treatments.values() for each in treatment.allergens} - _forbidding()
    found = classes | drugs | (plain & allergens)
    recognized = bool(found) or any(each in words for name, each in _by_name() if name in _forbidding())
    return Told(part, frozenset(found | sick), recognized, perhaps)


def _diseases(part: str, whole: str, *, prose: bool = False) -> tuple[frozenset[str], frozenset[str]]:
    """What forbids a drug by itself, and what may: one that forbids only at some time after it, and does not say when.

    How old it is stands beside it, or else elsewhere in the text.
    """
    words, tables = spoken(_american(_NO.sub(" ", part))), load("check/allergies")
    for other in (words_of(name) for slug in _forbidding() for name in tables[slug].get("not_names", ())):
        words = words.replace(other, " | ")
    found = {
        slug
        for slug in _forbidding()
        for name in _with_plural(tables[slug]["names"])
        if words_of(_american(name)) in words and not (prose and name.removesuffix("s").isupper())
    }
    timed = {slug for slug in found if "from_h" in tables[slug]}
    since = next((hours for text in (part, whole) if (hours := hours_ago(text)) is not None), None)
    old = {slug for slug in timed if since is not None and tables[slug]["from_h"] <= since < tables[slug]["until_h"]}
    over = {slug for slug in timed if since is not None and not tables[slug]["from_h"]} - old
    fresh = {slug for slug in timed if since is not None and since < tables[slug]["from_h"]} | over
    asks = {slug for slug in found if "asks" in tables[slug]}
    return frozenset(found - timed | old) - asks, frozenset(timed - old - fresh | asks - over)


@cache
def _by_name() -> tuple[tuple[str, str], ...]:
    """Each class with each of its names, in small words between blanks."""
    tables = load("check/allergies")
    return tuple(
        (slug, words_of(_american(name))) for slug, table in tables.items() for name in _with_plural(table["names"])
    )


def _with_plural(names: list[str]) -> Iterator[str]:
    for name in names:
        yield name
        yield f"{name}s"


def _american(text: str) -> str:
    return text.casefold().replace("sulph", "sulf")
