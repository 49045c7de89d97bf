"""Writes down the acknowledgements so far as steps, and when each alarm had its last turn and its end."""

from datetime import timedelta

from django.db import migrations

# As equipment.moments.CLOCK_SKEW: so far ahead a device's clock could be when somebody answered.
AHEAD = timedelta(minutes=5)


def fill(apps, schema_editor):
    Alarm = apps.get_model("alarms", "Alarm")
    AlarmStep = apps.get_model("alarms", "AlarmStep")
    for alarm in Alarm.objects.order_by("pk").iterator(chunk_size=1000):
        turns = [alarm.last_raised_at, alarm.cleared_at]
        answered = alarm.acknowledged_at
        if answered is not None:
            shown = [at for at in turns if at is not None and at <= answered + AHEAD]
            through = max(answered, *shown) if shown else answered
            turns.append(through)
            AlarmStep.objects.create(
                facility_id=alarm.facility_id,
                alarm=alarm,
                kind="acknowledge",
                at=answered,
                through=through,
                by=alarm.acknowledged_by,
                note=alarm.acknowledged_note,
            )
        alarm.last_turn_at = max(at for at in turns if at is not None)
        alarm.called_from = alarm.opened_at
        if alarm.state == "normal":
            # An alarm without a clear lapsed when the same was raised anew.
            alarm.ended_at = alarm.last_turn_at if alarm.cleared_at is not None else lapsed_at(Alarm, alarm)
        alarm.save(update_fields=["last_turn_at", "called_from", "ended_at"])


def lapsed_at(Alarm, alarm):
    place = {"facility": alarm.facility_id, "component": alarm.component_id, "device": alarm.device}
    later = Alarm.objects.filter(condition=alarm.condition, raised_at__gt=alarm.last_raised_at, **place)
    following = later.order_by("raised_at").first()
    return following.raised_at if following is not None else alarm.last_turn_at


def empty(apps, schema_editor):
    apps.get_model("alarms", "AlarmStep").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [("alarms", "0014_steps_of_people")]

    operations = [migrations.RunPython(fill, empty)]
