"""Ventricular tachycardia in what crews write; the wordings are common practice, no source."""

import pytest

from dosing.patient.rhythms import is_ventricular_tachycardia


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
    ],
)
def test_not_named_or_denied(text):
    assert not is_ventricular_tachycardia(text)
