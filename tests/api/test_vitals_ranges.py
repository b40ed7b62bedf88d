"""What can be measured: contract, "Vitals". Each bound is read, one step beyond it is refused at its own field."""

from datetime import UTC, datetime

import pytest
from rest_framework.exceptions import ValidationError

from api.serializers.vitals import VitalsEntry
from dosing.ground.measurements import MEASUREMENTS

NOW = datetime(2030, 1, 5, 10, 0, tzinfo=UTC)
RANGES = {
    "sbp": (20, 300),
    "map_reported": (10, 250),
    "hr": (0, 350),
    "rr": (0, 120),
    "spo2": (0, 100),
    "etco2": (0, 150),
    "temp_c": (10, 45),
    "glucose_mg_dl": (5, 2000),
    "glucose_mmol_l": (0.3, 111),
    "cap_refill_s": (0, 20),
    "lactate_mmol_l": (0, 30),
    "gcs": (3, 15),
    "oxygen_l_min": (0, 100),  # of this and the next the contract names no range: ours
    "hb_g_dl": (0, 30),
}


def test_each_number_has_its_range_here():
    assert {each.name for each in MEASUREMENTS if each.range} - {"dbp"} == RANGES.keys()


def read(**values):
    return VitalsEntry.read({"taken_at": "2030-01-05T10:00:00Z", **values}, NOW)


def faults(**values):
    """The codes by field of a set that is refused."""
    with pytest.raises(ValidationError) as found:
        read(**values)
    return found.value.get_codes()


@pytest.mark.parametrize("field", RANGES)
def test_both_bounds_can_be_measured(field):
    for bound in RANGES[field]:
        assert read(**{field: bound})[field] == bound
        assert read(**{field: str(bound)})[field] == bound


@pytest.mark.parametrize("field", RANGES)
def test_beyond_a_bound_is_refused_at_the_field(field):
    least, most = RANGES[field]
    step = 1 if field == "gcs" else 0.01
    for beyond in (least - step, most + step):
        assert faults(**{field: beyond}) == {field: ["out_of_range"]}


@pytest.mark.parametrize("field", RANGES)
@pytest.mark.parametrize(
    "value", ["fast", True, None, [80], {"value": 80}], ids=["text", "flag", "null", "list", "object"]
)
def test_what_is_no_number_is_refused_at_the_field(field, value):
    assert set(faults(**{field: value})) == {field}


@pytest.mark.parametrize(
    ("values", "where"),
    [
        pytest.param({"sbp": 90, "dbp": 0}, None, id="diastolic 0"),
        pytest.param({"sbp": 300, "dbp": 200}, None, id="diastolic 200"),
        pytest.param({"sbp": 300, "dbp": 200.5}, "dbp", id="diastolic over 200"),
        pytest.param({"sbp": 90, "dbp": -1}, "dbp", id="diastolic under 0"),
        pytest.param({"sbp": 90, "dbp": 89}, None, id="diastolic just below systolic"),
        pytest.param({"sbp": 90, "dbp": 90}, "dbp", id="diastolic equals systolic"),
        pytest.param({"sbp": 90, "dbp": 95}, "dbp", id="diastolic above systolic"),
        pytest.param({"dbp": 50}, "dbp", id="diastolic without systolic"),
        pytest.param({"sbp": 90, "bp_method": "palpated"}, None, id="palpated"),
        pytest.param({"sbp": 90, "dbp": 50, "bp_method": "palpated"}, "dbp", id="palpated with diastolic"),
        pytest.param({"bp_method": "unobtainable"}, None, id="unobtainable alone"),
        pytest.param({"bp_method": "unobtainable", "pulses": "carotid"}, None, id="unobtainable with pulses"),
        pytest.param({"bp_method": "unobtainable", "sbp": 60}, "sbp", id="unobtainable with systolic"),
        pytest.param({"bp_method": "unobtainable", "hr": 130}, None, id="unobtainable with a heart rate"),
        pytest.param({"bp_method": "cuff"}, "bp_method", id="a cuff alone"),
        pytest.param({"bp_method": "cuff", "hr": 90}, "bp_method", id="a cuff without a pressure"),
        pytest.param({"bp_method": "manual", "spo2": 90}, "bp_method", id="by hand without a pressure"),
        pytest.param({"bp_method": "arterial", "hr": 90}, "bp_method", id="an arterial line without a pressure"),
        pytest.param({"bp_method": "arterial", "map_reported": 62}, None, id="an arterial line with its MAP"),
        pytest.param({"bp_method": "cuff", "map_reported": 62}, None, id="a cuff that tells the MAP alone"),
        pytest.param({"bp_method": "palpated", "hr": 90}, "bp_method", id="palpated without a systolic"),
        pytest.param({"bp_method": "palpated", "map_reported": 62}, "bp_method", id="palpated with a MAP"),
        pytest.param({"source": "monitor"}, "non_field_errors", id="a source alone"),
        pytest.param({}, "non_field_errors", id="nothing measured"),
        pytest.param({"hr": 80, "sistolic": 90}, "sistolic", id="misspelt"),
        pytest.param({"hr": 80, "derived": {}}, "derived", id="what the server computes"),
        pytest.param({"hr": 80, "seq": 3}, "seq", id="what the server counts"),
        pytest.param({"bp_method": "guess", "sbp": 90}, "bp_method", id="unknown method"),
        pytest.param({"avpu": "B"}, "avpu", id="unknown alertness"),
        pytest.param({"lungs": "clear"}, None, id="lungs alone"),
        pytest.param({"skin": "cold, mottled", "pupils": "equal"}, None, id="short texts"),
        pytest.param({"glucose_flag": "low"}, None, id="a meter that only says low"),
        pytest.param({"glucose_mg_dl": 72, "glucose_mmol_l": 4}, "glucose_mmol_l", id="one glucose in two units"),
        pytest.param({"glucose_mmol_l": 4, "glucose_flag": "low"}, None, id="mmol/L beside the meter's word"),
        pytest.param({"map_reported": 62}, None, id="a reported MAP alone"),
    ],
)
def test_parts_of_a_set_fit_together(values, where):
    if where is None:
        assert read(**values).keys() == {"taken_at", *values}
    else:
        assert set(faults(**values)) == {where}


@pytest.mark.parametrize(
    ("scale", "where"),
    [
        ({"eye": 4, "verbal": 5, "motor": 6}, None),
        ({"eye": 1, "verbal": 1, "motor": 1}, None),
        ({"eye": 5, "verbal": 5, "motor": 6}, "eye"),
        ({"eye": 4, "verbal": 0, "motor": 6}, "verbal"),
        ({"eye": 4, "verbal": 5, "motor": 6.5}, "motor"),
        ({"eye": 4, "verbal": 5}, "motor"),
        ({"eye": 4, "verbal": 5, "motor": 6, "total": 15}, "total"),
    ],
)
def test_the_coma_scale_has_three_parts(scale, where):
    if where is None:
        assert read(gcs=scale)["gcs"] == scale
    else:
        assert set(faults(gcs=scale)["gcs"]) == {where}
