"""The difference between two cards, as the journal keeps it, and the card put together again from such differences.

A list is told by key: which items were added, changed or removed, so that one more dose costs the same after a thousand
as after the first. Every so many lines the whole card is kept, so that no replay reads far back.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import SequenceMatcher
from typing import Any, TypeVar

import msgspec

Part = TypeVar("Part", bound=msgspec.Struct)
Card = dict[str, Any]
Kept = dict[str, msgspec.Raw]  # a card whose values are JSON as it is kept: most are the same after an entry, unread
WHOLE_EVERY = 1000  # lines; a card with all its lists full then adds some 250 bytes to each
KEYS = ("id", "intervention", "title")  # by which an item is known again; one without any is another when it differs


def kept(card: str | bytes) -> Kept:
    """A card's JSON by its keys."""
    return msgspec.json.decode(card, type=Kept)


def part(card: Kept, kind: type[Part]) -> Part:
    """These fields of a card, read."""
    fields = {name: card[name] for name in kind.__struct_fields__}
    return msgspec.json.decode(msgspec.json.encode(fields), type=kind)


def at(seq: int, old: Kept, new: Kept) -> Card:
    """What the journal line `seq` keeps of the way from the `old` card to the `new` one."""
    if seq % WHOLE_EVERY == 0:
        return new
    return {key: _told(old.get(key), value) for key, value in new.items() if old.get(key) != value}


def _told(old: msgspec.Raw | None, new: msgspec.Raw) -> Any:
    """What is kept of one key; of a list no item is read where it has only moved on."""
    if old is None or not (_is_list(old) and _is_list(new)):
        return new
    items, others = (msgspec.json.decode(each, type=list[msgspec.Raw]) for each in (old, new))
    moved = _moved_on(items, others)
    return {"places": moved} if moved else _difference(msgspec.json.decode(old), msgspec.json.decode(new))


def _is_list(value: msgspec.Raw) -> bool:
    return memoryview(value)[0] == ord("[")


def replayed_from(seq: int) -> int:
    """The line from which on a replay to `seq` must read: the newest that keeps the whole card, else the first."""
    return max(1, seq - seq % WHOLE_EVERY)


def between(old: Card, new: Card) -> Card:
    """The keys of `new` whose values differ from `old`; of a list its places.

    ``{"places": [[first, end, items], [place, changes], …]}``: `items` stand where those from `first` to before `end`
    stood, the item at `place` has these `changes`; counted in the list as it was, from its beginning.
    """
    differ = [key for key, value in new.items() if key not in old or old[key] != value]
    return {key: _difference(old.get(key), new[key]) for key in differ}


def _difference(old: Any, new: Any) -> Any:
    return {"places": list(_places(old, new))} if isinstance(old, list) and isinstance(new, list) else new


def _places(old: list[Any], new: list[Any]) -> Iterable[list[Any]]:
    return _moved_on(old, new) or _compared(old, new)


def _moved_on(old: list[Any], new: list[Any]) -> list[list[Any]]:
    """The places of a list of which some left at its beginning and some came at its end, as most do; else none."""
    gone = next((place for place, item in enumerate(old) if new and item == new[0]), len(old))
    stay = len(old) - gone
    if not stay or old[gone:] != new[:stay]:
        return []
    left = [[0, gone, []]] if gone else []
    return [*left, [len(old), len(old), new[stay:]]] if new[stay:] else left


def _compared(old: list[Any], new: list[Any]) -> Iterator[list[Any]]:
    before, after = ([_key(item) for item in items] for items in (old, new))
    for what, first, end, low, high in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if what != "equal":
            yield [first, end, new[low:high]]
            continue
        for place, (was, item) in enumerate(zip(old[first:end], new[low:high], strict=True), first):
            if was != item:
                yield [place, between(was, item)] if was.keys() <= item.keys() else [place, place + 1, [item]]


def _key(item: Any) -> object:
    known = (item.get(name) for name in KEYS) if isinstance(item, dict) else ()
    return next((key for key in known if key), None) or msgspec.json.encode(item)


def applied(card: Card, changed: Card) -> Card:
    """The card, or an item of its lists, with what was changed."""
    return {**card, **{key: _after(card.get(key), value) for key, value in changed.items()}}


def _after(value: Any, changed: Any) -> Any:
    by_places = isinstance(value, list) and isinstance(changed, dict)
    return _put(value, changed["places"]) if by_places else changed


def _put(items: list[Any], places: list[Any]) -> list[Any]:
    found: list[Any] = []
    reached = 0
    for first, *told in places:
        end, put = told if len(told) > 1 else (first + 1, [applied(items[first], told[0])])
        found += [*items[reached:first], *put]
        reached = end
    return found + items[reached:]


def replayed(entries: Iterable[Card]) -> Card:
    """The card after the last of these changes, oldest first; nothing is computed anew."""
    card: Card = {}
    for changed in entries:
        card = applied(card, changed)
    return card
