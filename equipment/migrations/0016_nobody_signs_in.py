"""Nobody signs in: drops the tables of people, and those of Django's apps that served them, where they are.

Nothing in them is evidence, and what was of use, whom to tell, was kept (alarms 0026). Stop the workers of the version
before first: an alarm that one of them calls meanwhile waits five minutes. A database made since has none of these
tables.
"""

from django.db import migrations

OURS = ('equipment_membership', 'equipment_user_groups', 'equipment_user_user_permissions', 'equipment_user')
DJANGOS = ('auth_group_permissions', 'auth_group', 'auth_permission', 'django_content_type', 'django_session')
APPS = ('auth', 'contenttypes', 'sessions')


def drop(apps, schema_editor):
    """In the order of their references; with them the marks that Django's migrations were applied."""
    for table in (*OURS, *DJANGOS):
        schema_editor.execute(f'DROP TABLE IF EXISTS {table}')
    for app in APPS:
        schema_editor.execute('DELETE FROM django_migrations WHERE app = %s', [app])


class Migration(migrations.Migration):

    dependencies = [
        ('equipment', '0015_gateway_keys'),
    ]

    operations = [
        migrations.RunPython(drop, migrations.RunPython.noop),
    ]
