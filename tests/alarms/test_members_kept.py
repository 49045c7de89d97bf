"""What a database of the time when people could sign in keeps: whoever was told of alarms stays told."""

from importlib import import_module
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.db import connection

from alarms.models import FallbackPerson

TABLES = """
CREATE TABLE equipment_user (id integer PRIMARY KEY, username varchar(150), first_name varchar(150),
    last_name varchar(150), email varchar(254), is_active boolean);
CREATE TABLE equipment_membership (id integer PRIMARY KEY, user_id integer, organisation_id bigint, role varchar(12))
"""
MEMBERS = [  # name, address, active, role
    ("ann", "ann@example.com", True, "manager"),
    ("bob", "bob@example.com", True, "staff"),
    ("cem", "", True, "manager"),
    ("dee", "dee@example.com", False, "manager"),
    ("eve", "ANN@example.com", True, "manager"),
]


@pytest.fixture
def member_of(db):
    with connection.cursor() as cursor:
        for statement in TABLES.split(";"):
            cursor.execute(statement)

        def add(organisation, rows) -> None:
            for number, (name, email, active, role) in enumerate(rows, start=organisation.pk * 100):
                values = [number, name, "", "", email, active]
                cursor.execute("INSERT INTO equipment_user VALUES (%s, %s, %s, %s, %s, %s)", values)
                values = [number, number, organisation.pk, role]
                cursor.execute("INSERT INTO equipment_membership VALUES (%s, %s, %s, %s)", values)

        yield add


def keep() -> None:
    migration = import_module("alarms.migrations.0026_people_who_signed_in")
    migration.keep(apps, SimpleNamespace(connection=connection))


def kept(organisation) -> list[tuple[str, str]]:
    rows = FallbackPerson.objects.filter(fallback_list__organisation=organisation).order_by("position")
    return list(rows.values_list("contact__name", "contact__email"))


def test_managers_who_have_an_address_become_fallback_people_else_the_staff(member_of, owner, stranger):
    member_of(owner, MEMBERS)
    member_of(stranger, MEMBERS[1:3])
    keep()

    assert kept(owner) == [("ann", "ann@example.com")]
    assert kept(stranger) == [("bob", "bob@example.com")]


def test_a_fresh_database_has_nobody_to_keep(owner):
    keep()

    assert kept(owner) == []


@pytest.mark.django_db(transaction=True)
def test_their_tables_are_gone_after_that(member_of, owner):
    with connection.schema_editor() as editor:
        import_module("equipment.migrations.0016_nobody_signs_in").drop(apps, editor)

    assert not {"equipment_user", "equipment_membership"} & set(connection.introspection.table_names())
