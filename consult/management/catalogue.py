"""A catalogue of texts: the file that people edit (.po, GNU gettext), what programs read (.mo), and scripts (JSON)."""

from __future__ import annotations

import ast
import json
import re
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from consult.management.texts import Text

PLURAL = "nplurals=2; plural=(n != 1);"
HEAD = """\
# Every text that the code itself says, with the files that say it. To word one otherwise, or in another language, write
# it into its msgstr; what stands in braces or after a percent sign stays. Then run manage.py texts, and start anew.
"""
CODES = "ground/codes.py"  # scripts say them, too
_PLACES = re.compile(r"%\(\w+\)s|\{\w*\}")
_LINE = re.compile(r'(?:(msgid|msgid_plural|msgstr)(?:\[(\d)\])? )?(".*")')


@dataclass
class Catalogue:
    """What is said instead of each text: nothing, one text, or one for each form of what is counted."""

    said: dict[Text, tuple[str, ...]] = field(default_factory=dict)
    plural: str = PLURAL

    def filled(self) -> dict[Text, tuple[str, ...]]:
        """The texts that are said otherwise."""
        return {text: said for text, said in self.said.items() if said and all(said)}

    def faults(self) -> Iterator[str]:
        """What is said otherwise with other places than the text has: there an amount would be missing."""
        for text, said in self.filled().items():
            places = [set(_PLACES.findall(each)) for each in text]
            places += [each - {"{count}"} for each in places[1:]]  # one of them may be told in words
            for each in said:
                if set(_PLACES.findall(each)) not in places:
                    yield f"{each!r} has not the places of {text[-1]!r}"


def read(source: str) -> Catalogue:
    """The catalogue that a file's text holds; those no longer said (`#~`) too."""
    catalogue = Catalogue()
    for block in re.split(r"\n\s*\n", source.replace("#~ ", "")):
        parts: dict[tuple[str, str], str] = {}
        key = ("", "")
        for line in block.splitlines():
            if match := _LINE.fullmatch(line.strip()):
                key = (match[1], match[2] or "") if match[1] else key
                parts[key] = parts.get(key, "") + ast.literal_eval(match[3])
        text = tuple(parts[key] for key in (("msgid", ""), ("msgid_plural", "")) if key in parts)
        said = tuple(part for (name, _number), part in parts.items() if name == "msgstr")
        if text == ("",):
            plural = re.search(r"Plural-Forms: (.*)", said[0])
            catalogue.plural = plural[1] if plural else PLURAL
        elif text:
            catalogue.said[text] = said
    return catalogue


def written(texts: Mapping[Text, list[str]], known: Catalogue) -> str:
    """The file: all these texts as they are said so far, and behind them what is filled in for texts that are gone."""
    blocks = [
        f'{HEAD}msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n"Plural-Forms: {known.plural}\\n"'
    ]
    blocks += [f"#: {' '.join(places)}\n{_entry(text, known)}" for text, places in texts.items()]
    gone = [_entry(text, known) for text in known.filled() if text not in texts]
    blocks += ["\n".join(f"#~ {line}" for line in entry.splitlines()) for entry in gone]
    return "\n\n".join(blocks) + "\n"


def _entry(text: Text, known: Catalogue) -> str:
    said = known.said.get(text, ())
    if len(text) == 1:
        return f"msgid {_quoted(text[0])}\nmsgstr {_quoted(said[0] if said else '')}"
    lines = [f"msgid {_quoted(text[0])}", f"msgid_plural {_quoted(text[1])}"]
    return "\n".join([*lines, *(f"msgstr[{n}] {_quoted(each)}" for n, each in enumerate(said or ("", "")))])


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def compiled(catalogue: Catalogue) -> bytes:
    """The same for gettext: a table of the texts, and one of what is said instead."""
    head = f"Content-Type: text/plain; charset=UTF-8\nPlural-Forms: {catalogue.plural}\n"
    pairs = {b"": head.encode()}
    pairs |= {"\0".join(text).encode(): "\0".join(said).encode() for text, said in catalogue.filled().items()}
    ordered = sorted(pairs.items())
    at = 28 + 16 * len(ordered)
    tables: tuple[list[int], list[int]] = ([], [])
    body = b""
    for side, texts in enumerate(zip(*ordered, strict=True)):
        for text in texts:
            tables[side].extend((len(text), at + len(body)))
            body += text + b"\0"
    numbers = (0x950412DE, 0, len(ordered), 28, 28 + 8 * len(ordered), 0, 0, *tables[0], *tables[1])
    return struct.pack(f"<{len(numbers)}I", *numbers) + body


def of_scripts(texts: Mapping[Text, list[str]], catalogue: Catalogue) -> dict[str, object]:
    """What pages tell their scripts: what is said instead of each of their texts, of what is counted all forms."""
    scripts = {text for text, places in texts.items() if any(place.endswith((".js", CODES)) for place in places)}
    filled = {text: said for text, said in catalogue.filled().items() if text in scripts}
    return {text[0]: said[0] if len(text) == 1 else list(said) for text, said in filled.items()}


def store(folder: Path, texts: Mapping[Text, list[str]]) -> list[str]:
    """Write the files of a language anew, those for programs where a text is said otherwise; returns its faults."""
    file = folder / "django.po"
    known = read(file.read_text(encoding="utf-8")) if file.is_file() else Catalogue()
    if faults := list(known.faults()):
        return faults
    folder.mkdir(parents=True, exist_ok=True)
    file.write_text(written(texts, known), encoding="utf-8")
    for name, content in (
        ("django.mo", compiled(known)),
        ("scripts.json", json.dumps(of_scripts(texts, known), ensure_ascii=False).encode()),
    ):
        if known.filled():
            (folder / name).write_bytes(content)
        else:
            (folder / name).unlink(missing_ok=True)
    return []
