"""Whatever is sent, the answer is a result or a clear problem, never the server's failure."""

import pytest

from api.serializers.batch import KINDS
from dosing.load import reader
from tests.api.addresses import address as address_of
from tests.api.addresses import there
from tests.api.conftest import ADULT, ago, mcg, new_id, request, vitals
from tests.depth import thinned

HOSTILE = [
    None,
    True,
    -1,
    0,
    1e9,
    10**29,
    1e-300,
    "",
    "x" * 5000,
    "\u0000",
    "\u202e",
    "1e5",
    "2030-01-05T10:00:00Z",
    "1900-01-01T00:00:00-14:00",
    [],
    [[]],
    {},
    {"value": 1e9, "unit": "mL/h"},
    {"value": None, "unit": []},
    {"times": 1e9},
]
ENTRIES = [
    (address_of(each), each.callback.view_class.entry) for each in there() if hasattr(each.callback.view_class, "entry")
]
UNITS = ("mcg", "mg", "mL", "units", "mmol", "mEq", "bag", "mcg/kg", "mcg/min", "mcg/kg/min", "mL/h", "units/min")
TREATMENTS = [*sorted(reader.load_shipped("demonstration").treatments), "other", "nonsense"]


def wants(entry):
    """A value for each field that an entry needs, so that only the field under test is odd."""
    known = {
        "treatment": "epinephrine-push-dose",
        "amount": mcg(10),
        "route": "IV",
        "text": "a",
        "reason": "a",
        "to": "a",
    }
    known |= {"opened_at": ago(minutes=1), "taken_at": ago(minutes=1), "given_at": ago(minutes=1), "patient": ADULT}
    known |= {"form": "syringe", "strength": {"value": 10, "unit": "mcg/mL"}, "volume": {"value": 10, "unit": "mL"}}
    known |= {"measure": "map", "floor": 70, "outcome": "done", "procedure": "other", "decision": "approve", "hr": 80}
    return {name: value for name, value in known.items() if name in entry.shared().fields}


@pytest.mark.parametrize(("address", "entry"), ENTRIES, ids=[each[0] for each in ENTRIES])
def test_an_odd_value_in_any_field(cast, case, address, entry):
    order = request()
    cast.crew.post(f"cases/{case}/orders/", order)
    ids = {"cases": case, "orders": order["id"]}
    path = address.format(id=ids.get(address.split("/")[0], new_id()))
    for number, name in enumerate([*entry.shared().fields, "nonsense"]):
        for value in thinned(HOSTILE, every=7, first=number):
            body = {**wants(entry), name: value}
            answer = cast.director.call("PATCH" if path == f"cases/{case}/" else "POST", path, body)
            assert answer.status_code < 500, (name, value, answer.content)


@pytest.mark.parametrize("kind", list(thinned(KINDS, every=3)))
def test_an_odd_value_in_a_batch(cast, case, kind):
    entry = {"kind": kind, "id": new_id(), "case": case, "order": new_id(), "intervention": new_id()}
    entry |= {"container": new_id()}
    entries = [{**entry, name: value} for name in entry for value in HOSTILE]
    for start in range(0, len(entries), 200):
        sent = {"sent_at": ago(seconds=0), "entries": entries[start : start + 200]}
        results = cast.crew.post("batch/", sent).json()["results"]
        assert max(result["status"] for result in results) < 500


@pytest.mark.parametrize("treatment", list(thinned(TREATMENTS, every=4)))
@pytest.mark.parametrize("weight", [ADULT["weight"], None], ids=["weighed", "unweighed"])
def test_every_treatment_in_every_unit(cast, open_case, treatment, weight):
    case = open_case(patient={**ADULT, "weight": weight})
    cast.crew.post(f"cases/{case}/vitals/", vitals(sbp=80, dbp=40, lungs="crackles"))
    strength, volume = {"value": 16, "unit": "mcg/mL"}, {"value": 3, "unit": "mL"}
    nth = TREATMENTS.index(treatment)
    asked_in = list(thinned(UNITS, every=4, first=nth))
    written = list(thinned(asked_in, every=3, first=nth if weight else nth + 1))
    for unit in asked_in:
        asked = {"treatment": treatment, "amount": {"value": 5, "unit": unit}, "route": "IV"}
        asked |= {"concentration": strength} if "/" in unit else {}
        answer = cast.crew.post(f"cases/{case}/checks/", asked)
        assert answer.status_code < 500, (unit, answer.content)
        if unit not in written:
            continue
        order, dose = {**asked, "id": new_id(), "reason": "a"}, {**asked, "id": new_id(), "given_at": ago(seconds=1)}
        said = {"treatment": treatment, "route": "IV"}
        hand = {"concentration": strength, "rate": {"value": 5, "unit": "mcg/min"}}
        answers = [
            cast.crew.post(f"cases/{case}/interventions/", {**dose, "status": "running"}),
            cast.crew.post(f"interventions/{dose['id']}/changes/", {"status": "finished", "infused": volume}),
            cast.physician.post(f"cases/{case}/orders/", order),
            cast.crew.post(f"orders/{order['id']}/readback/", {**said, "strength": strength, "volume": volume}),
            cast.crew.post(f"orders/{order['id']}/readback/", {**said, **hand}),
        ]
        assert max(answer.status_code for answer in answers) < 500, (unit, [answer.content for answer in answers])
    assert cast.crew.get(f"cases/{case}/guidance/").status_code == 200
    assert cast.supervisor.get(f"journal/verify/?case={case}").json()["intact"] is True
