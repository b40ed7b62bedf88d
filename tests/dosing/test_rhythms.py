"""Rhythms in what crews write; the wordings are common practice, no source."""

import pytest

from dosing.ground.tables import load
from dosing.patient.rhythms import is_ventricular_tachycardia, named
from dosing.rules.words import RHYTHMS


@pytest.mark.parametrize(
    "text",
    [
        "VT",
        "vt 180",
        "V-tach",
        "V. tach",
        "vtach",
        "Ventricular tachycardia",
        "wide complex, VT?",
        "nonsustained VT",
        "sinus with runs of VT",
        "torsades de pointes",
        "polymorphic ventricular tachycardia",
        "poly tach",
    ],
)
def test_named(text):
    assert is_ventricular_tachycardia(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "sinus",
        "SVT",
        "supraventricular tachycardia",
        "AF",
        "ventricular ectopics",
        "sinus tachycardia",
        "no VT",
        "no more VT",
        "not VT",
        "sinus, without VT",
        "PVT2",
        "ventricular rhythm, tachycardia",
        "supra-ventricular tachycardia",
        "VT excluded",
    ],
)
def test_not_named_or_denied(text):
    assert not is_ventricular_tachycardia(text)


@pytest.mark.parametrize(
    "text",
    [
        *("third deg heart blk", "complete AV dissociation", "BAV 3", "trifascicular block", "SSS"),
        *(
            "P waves not conducted",
            "junctional escape 45",
            "2nd deg. AV block",
            "III° AVB",
            "2:1 AV block",
            "2:1 block",
        ),
        *("AV block I-III", "sinus with 3 s pauses", "tachy-brady syndrome", "heartblock", "atrial flutter, CHB"),
        *(
            "no VT, AV dissociation",
            "A-V blk",
            "1st degree, then dropped beats",
            "block AV 2:1",
            "2 to 1 block",
            "AV block 2:1",
        ),
    ],
)
def test_a_block_is_named(text):
    assert named(text, "heart_block")


@pytest.mark.parametrize(
    "text",
    [
        *("RBBB", "LBBB, sinus 90", "complete right bundle branch block", "1st deg AV blk", "I° AVB", "BAV 1"),
        *("AV block, first degree", "flutter 2:1", "2:1 AV block, atrial flutter", "A-flutter with variable block"),
        *("VT with AV dissociation", "wide complex, AV dissociation", "sinus with nonconducted PACs", "AVNRT 190"),
        *(
            "no complete AV block",
            "no second-degree AV block",
            "AV block excluded",
            "w/o AV block",
            "V1 ST elevation",
            "flutter, AV block 2:1",
        ),
        *("sinus tachycardia, bradycardia earlier", "PVC, compensatory pause"),
    ],
)
def test_a_block_is_not_named_or_denied(text):
    assert not named(text, "heart_block")


@pytest.mark.parametrize(
    ("text", "is_long"),
    [
        *[(text, True) for text in ("QTc 500", "QTc: 0.56 s", "QTc > 520", "QT interval is prolonged", "long Q-T")],
        *[(text, False) for text in ("QTc 499", "QTc 0.44", "QTc < 500", "QT 320, HR 520", "PR prolonged, QTc normal")],
    ],
)
def test_a_long_qt_is_told_by_its_name_or_its_number(text, is_long):
    """500 ms: life support and guidance on drugs that lengthen the QT (from memory)."""
    assert named(text, "long_qt") == is_long


def test_each_kind_that_another_is_made_of_is_there():
    kinds = load("patient/rhythms")
    parts = {part.removeprefix("not ") for each in kinds.values() for line in each.get("together", []) for part in line}

    assert RHYTHMS | parts <= set(kinds)


@pytest.mark.parametrize(
    ("text", "is_none"),
    [
        *[
            (text, True)
            for text in ("asystole", "PEA", "PEA 40, narrow", "P.E.A.", "pulseless electrical activity", "EMD")
        ],
        *[(text, True) for text in ("flat line", "flatline", "VF to asystole", "asystole after PEA", "asystolic")],
        *[
            (text, False)
            for text in ("VF", "pulseless VT", "no PEA", "VF, no longer asystole", "PEA to VF", "VF after PEA")
        ],
        *[(text, False) for text in ("peaked T waves", "sinus", "not asystole")],
    ],
)
def test_a_rhythm_that_no_shock_ends(text, is_none):
    assert named(text, "not_shockable") == is_none
