"""Whoever was told as a member of an operator stays told: as a fallback person. The tables of members go after this."""

from django.db import migrations
from django.utils import timezone

MEMBERS = """
    SELECT member.organisation_id, member.role, person.first_name, person.last_name, person.username, person.email
    FROM equipment_membership member JOIN equipment_user person ON person.id = member.user_id
    WHERE person.is_active AND person.email <> '' AND member.role IN ('manager', 'staff')
    ORDER BY member.id
"""


def keep(apps, schema_editor):
    """The managers who have an address, else the staff: those who were told so far."""
    connection = schema_editor.connection
    if 'equipment_membership' not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        cursor.execute(MEMBERS)
        rows = cursor.fetchall()
    found = {}
    for organisation, role, first, last, username, email in rows:
        name = f'{first} {last}'.strip() or username
        found.setdefault(organisation, {}).setdefault(role, []).append((name[:100], email))
    for organisation, by_role in found.items():
        _name(apps, organisation, by_role.get('manager') or by_role['staff'])


def _name(apps, organisation, people):
    Contact = apps.get_model('alarms', 'Contact')
    row = apps.get_model('alarms', 'FallbackList').objects.create(
        organisation_id=organisation, changed_at=timezone.now(), changed_by='migration'
    )
    kept = set()
    for name, email in people:
        if email.lower() in kept:
            continue
        kept.add(email.lower())
        contact, _ = Contact.objects.get_or_create(organisation_id=organisation, name=name, email=email)
        row.people.create(position=len(kept), contact=contact)


class Migration(migrations.Migration):

    dependencies = [
        ('alarms', '0025_fallback_people'),
    ]
    run_before = [
        ('equipment', '0016_nobody_signs_in'),
    ]

    operations = [
        migrations.RunPython(keep, migrations.RunPython.noop),
    ]
