"""What the written-out statements of a write keep from one to the next, and what they must not."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.transaction import TransactionManagementError

from consult import statements
from consult.models import Agency
from tests.conftest import Consult, later

pytestmark = [pytest.mark.django_db, pytest.mark.postgresql]


def cursor() -> object:
    with statements._cursor(connection) as kept:
        return kept


def test_a_connection_keeps_one_cursor(consult: Consult) -> None:
    before = cursor()
    consult.vitals(at=later(minutes=1), sbp=84, dbp=50)

    assert cursor() is before


def test_a_new_connection_has_a_cursor_of_its_own(transactional_db: None) -> None:
    before = cursor()
    connection.close()

    assert cursor() is not before


def test_refusals_are_djangos_own_and_the_next_statement_is_taken(cast: object) -> None:
    there = Agency.objects.all()[0]
    same = Agency(**{field.attname: getattr(there, field.attname) for field in Agency._meta.concrete_fields})
    with pytest.raises(IntegrityError), transaction.atomic():
        statements.together([same])

    assert statements.lock(Agency, {"id": there.pk})


def test_nothing_is_sent_in_a_transaction_that_is_to_be_rolled_back(cast: object) -> None:
    with transaction.atomic():
        transaction.set_rollback(True)
        with pytest.raises(TransactionManagementError):
            cursor()
