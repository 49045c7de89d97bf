"""People, documents, deliveries, spills, releases, findings, overrides, plans and events; the person of a record.

As in 0002, triggers refuse what reaches into another facility. Undoing this rebuilds the table of records on SQLite,
which the triggers of 0002 would not survive: they are taken off before and put back after.
"""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models


same_facility = import_module("equipment.migrations.0002_same_facility")


def _of(table):
    return f"(SELECT facility_id FROM {table} WHERE id = NEW.fact_id)"


# table, column that points, table that holds the facility of what is pointed at, facility of the pointing row
LINKS = [
    ("equipment_deliverysubject", "component_id", "equipment_component", _of("equipment_delivery")),
    ("equipment_documentsubject", "component_id", "equipment_component", _of("equipment_document")),
    ("equipment_plansubject", "component_id", "equipment_component", _of("equipment_plan")),
    ("equipment_agencyoverride", "component_id", "equipment_component", "NEW.facility_id"),
    ("equipment_agencyoverride", "document_id", "equipment_document", "NEW.facility_id"),
]


def install(apps, schema_editor):
    same_facility.install_links(schema_editor, LINKS)


def remove(apps, schema_editor):
    same_facility.remove_links(schema_editor, LINKS)
    same_facility.remove(apps, schema_editor)


class Migration(migrations.Migration):

    dependencies = [
        ('equipment', '0003_facts_changed_at'),
    ]

    operations = [
        migrations.RunPython(migrations.RunPython.noop, same_facility.install),
        migrations.CreateModel(
            name='Delivery',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('started_on', models.DateField()),
                ('started_at', models.DateTimeField(blank=True, null=True)),
                ('ended_on', models.DateField(blank=True, null=True)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('ullage_gal', models.FloatField(blank=True, help_text='room in the tank before, gallons', null=True)),
                ('ordered_gal', models.FloatField(blank=True, null=True)),
                ('delivered_gal', models.FloatField(blank=True, null=True)),
                ('watched_throughout', models.BooleanField(blank=True, help_text='somebody watched the whole transfer', null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
            ],
        ),
        migrations.CreateModel(
            name='DeliverySubject',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('component', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.component')),
                ('fact', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='named', to='equipment.delivery')),
            ],
        ),
        migrations.AddField(
            model_name='delivery',
            name='subjects',
            field=models.ManyToManyField(related_name='+', through='equipment.DeliverySubject', to='equipment.component'),
        ),
        migrations.CreateModel(
            name='Document',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('ended_on', models.DateField(blank=True, help_text='last day on which it holds', null=True)),
                ('end_recorded_at', models.DateTimeField(blank=True, null=True)),
                ('end_recorded_by', models.CharField(blank=True, max_length=200, null=True)),
                ('type', models.CharField(help_text='financial responsibility, registration, agency letter, ...', max_length=60)),
                ('number', models.CharField(blank=True, help_text='policy, permit or file number', max_length=100, null=True)),
                ('issuer', models.CharField(blank=True, max_length=200, null=True)),
                ('issued_on', models.DateField(blank=True, help_text='first day on which it is good', null=True)),
                ('expires_on', models.DateField(blank=True, help_text='last day on which it is good', null=True)),
                ('received_on', models.DateField(blank=True, null=True)),
                ('per_occurrence_usd', models.FloatField(blank=True, help_text='cover for one occurrence', null=True)),
                ('annual_aggregate_usd', models.FloatField(blank=True, help_text='cover for a year', null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
            ],
        ),
        migrations.CreateModel(
            name='AgencyOverride',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('rule', models.CharField(help_text='id of the rule, as a finding names it', max_length=80)),
                ('params', models.JSONField(help_text='the figures it sets, by their names in the rule')),
                ('from_on', models.DateField(blank=True, help_text='first day; null: always was', null=True)),
                ('to_on', models.DateField(blank=True, help_text='last day; null: until withdrawn', null=True)),
                ('component', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.component')),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
                ('document', models.ForeignKey(help_text='the letter', on_delete=django.db.models.deletion.PROTECT, related_name='overrides', to='equipment.document')),
            ],
        ),
        migrations.CreateModel(
            name='DocumentSubject',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('component', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.component')),
                ('fact', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='named', to='equipment.document')),
            ],
        ),
        migrations.AddField(
            model_name='document',
            name='subjects',
            field=models.ManyToManyField(related_name='+', through='equipment.DocumentSubject', to='equipment.component'),
        ),
        migrations.CreateModel(
            name='Person',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=200)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(max_length=200)),
                ('organisation', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='people', to='equipment.organisation')),
            ],
        ),
        migrations.CreateModel(
            name='Designation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('ended_on', models.DateField(blank=True, help_text='last day on which it holds', null=True)),
                ('end_recorded_at', models.DateTimeField(blank=True, null=True)),
                ('end_recorded_by', models.CharField(blank=True, max_length=200, null=True)),
                ('operator_class', models.CharField(choices=[('A', 'A'), ('B', 'B'), ('A/B', 'Both'), ('C', 'C')], max_length=3)),
                ('assumed_duties_on', models.DateField(blank=True, help_text='first day of the duties', null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='designations', to='equipment.person')),
            ],
        ),
        migrations.AddField(
            model_name='record',
            name='person',
            field=models.ForeignKey(blank=True, help_text='who was trained', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.person'),
        ),
        migrations.CreateModel(
            name='Plan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('type', models.CharField(help_text='permanent closure, change in service, fuel switch, ... or an activity', max_length=60)),
                ('planned_on', models.DateField()),
                ('planned_at', models.DateTimeField(blank=True, null=True)),
                ('to_ethanol_pct', models.FloatField(blank=True, null=True)),
                ('to_biodiesel_pct', models.FloatField(blank=True, null=True)),
                ('corrective_action', models.BooleanField(blank=True, help_text='a closure that answers corrective action (280.71(a))', null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
            ],
        ),
        migrations.CreateModel(
            name='PlanSubject',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('component', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.component')),
                ('fact', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='named', to='equipment.plan')),
            ],
        ),
        migrations.AddField(
            model_name='plan',
            name='subjects',
            field=models.ManyToManyField(related_name='+', through='equipment.PlanSubject', to='equipment.component'),
        ),
        migrations.CreateModel(
            name='Release',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('identified_on', models.DateField(blank=True, null=True)),
                ('identified_at', models.DateTimeField(blank=True, null=True)),
                ('confirmed_on', models.DateField()),
                ('confirmed_at', models.DateTimeField(blank=True, null=True)),
                ('free_product', models.BooleanField(blank=True, help_text='liquid fuel was found (280.64)', null=True)),
                ('alarm', models.PositiveBigIntegerField(blank=True, help_text='number of the alarm that led to it', null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
            ],
        ),
        migrations.CreateModel(
            name='SiteEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('type', models.CharField(choices=[('ownership change', 'Ownership'), ('designated operator change', 'Operator'), ('breakaway parted', 'Breakaway'), ('cover cancelled', 'Cover'), ('owner bankruptcy', 'Bankruptcy'), ('flood warning', 'Flood')], max_length=30)),
                ('happened_on', models.DateField()),
                ('happened_at', models.DateTimeField(blank=True, null=True)),
                ('notice_received_on', models.DateField(blank=True, help_text='counts for 280.109(b)', null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
            ],
        ),
        migrations.CreateModel(
            name='Spill',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('discovered_on', models.DateField()),
                ('discovered_at', models.DateTimeField(blank=True, null=True)),
                ('gal_to_environment', models.FloatField(blank=True, help_text='gallons beyond any spill bucket or sump', null=True)),
                ('sheen', models.BooleanField(blank=True, help_text='a sheen was seen on water nearby', null=True)),
                ('reached', models.CharField(blank=True, help_text='soil, water, concrete, ...', max_length=100, null=True)),
                ('substance', models.CharField(blank=True, max_length=100, null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
            ],
        ),
        migrations.CreateModel(
            name='SpillKnowledge',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('party', models.CharField(help_text='owner, operator, contractor, ...', max_length=100)),
                ('at', models.DateTimeField()),
                ('spill', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='known_by', to='equipment.spill')),
            ],
        ),
        migrations.CreateModel(
            name='AgencyFinding',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('type', models.CharField(choices=[('non-compliance', 'Non Compliance'), ('significant violation', 'Significant'), ('order', 'Order'), ('notice', 'Notice')], max_length=24)),
                ('determined_on', models.DateField(blank=True, null=True)),
                ('served_on', models.DateField(blank=True, help_text='day on which it reached the facility', null=True)),
                ('retraining_waived', models.BooleanField(blank=True, null=True)),
                ('text', models.CharField(blank=True, max_length=4000, null=True)),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='agencyfinding_withdrawn_with_a_reason'), models.CheckConstraint(condition=models.Q(('type__in', ['non-compliance', 'significant violation', 'order', 'notice'])), name='finding_type_known')],
            },
        ),
        migrations.AddConstraint(
            model_name='deliverysubject',
            constraint=models.UniqueConstraint(fields=('fact', 'component'), name='delivery_subject_named_once'),
        ),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='delivery_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('started_on', None), ('ended_on', None), ('ended_on__gte', models.F('started_on')), _connector='OR'), models.Q(('started_at', None), ('ended_at', None), ('ended_at__gte', models.F('started_at')), _connector='OR')), name='delivery_ends_after_it_started'),
        ),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('ullage_gal', None), ('ullage_gal__gte', 0), _connector='OR'), models.Q(('ordered_gal', None), ('ordered_gal__gte', 0), _connector='OR'), models.Q(('delivered_gal', None), ('delivered_gal__gte', 0), _connector='OR')), name='delivery_gallons_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.CheckConstraint(condition=models.Q(('ended_at', None), models.Q(('ended_on', None), _negated=True), _connector='OR'), name='delivery_end_has_a_day'),
        ),
        migrations.AddConstraint(
            model_name='agencyoverride',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='agencyoverride_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='agencyoverride',
            constraint=models.CheckConstraint(condition=models.Q(('rule', ''), _negated=True), name='override_names_a_rule'),
        ),
        migrations.AddConstraint(
            model_name='agencyoverride',
            constraint=models.CheckConstraint(condition=models.Q(('from_on', None), ('to_on', None), ('to_on__gte', models.F('from_on')), _connector='OR'), name='override_ends_after_it_began'),
        ),
        migrations.AddConstraint(
            model_name='documentsubject',
            constraint=models.UniqueConstraint(fields=('fact', 'component'), name='document_subject_named_once'),
        ),
        migrations.AddConstraint(
            model_name='document',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='document_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='document',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('end_recorded_at', None), ('end_recorded_by', None), ('ended_on', None)), models.Q(models.Q(('ended_on', None), _negated=True), models.Q(('end_recorded_at', None), _negated=True), models.Q(('end_recorded_by', None), _negated=True)), _connector='OR'), name='document_end_stated_by_somebody'),
        ),
        migrations.AddConstraint(
            model_name='document',
            constraint=models.CheckConstraint(condition=models.Q(('type', ''), _negated=True), name='document_type_stated'),
        ),
        migrations.AddConstraint(
            model_name='document',
            constraint=models.CheckConstraint(condition=models.Q(('issued_on', None), ('expires_on', None), ('expires_on__gte', models.F('issued_on')), _connector='OR'), name='document_expires_after_issue'),
        ),
        migrations.AddConstraint(
            model_name='document',
            constraint=models.CheckConstraint(condition=models.Q(('issued_on', None), ('ended_on', None), ('ended_on__gte', models.F('issued_on')), _connector='OR'), name='document_ends_after_issue'),
        ),
        migrations.AddConstraint(
            model_name='document',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('per_occurrence_usd', None), ('per_occurrence_usd__gte', 0), _connector='OR'), models.Q(('annual_aggregate_usd', None), ('annual_aggregate_usd__gte', 0), _connector='OR')), name='document_cover_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='designation',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='designation_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='designation',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('end_recorded_at', None), ('end_recorded_by', None), ('ended_on', None)), models.Q(models.Q(('ended_on', None), _negated=True), models.Q(('end_recorded_at', None), _negated=True), models.Q(('end_recorded_by', None), _negated=True)), _connector='OR'), name='designation_end_stated_by_somebody'),
        ),
        migrations.AddConstraint(
            model_name='designation',
            constraint=models.CheckConstraint(condition=models.Q(('operator_class__in', ['A', 'B', 'A/B', 'C'])), name='designation_class_known'),
        ),
        migrations.AddConstraint(
            model_name='designation',
            constraint=models.CheckConstraint(condition=models.Q(('assumed_duties_on', None), ('ended_on', None), ('ended_on__gte', models.F('assumed_duties_on')), _connector='OR'), name='designation_ends_after_it_began'),
        ),
        migrations.AddConstraint(
            model_name='designation',
            constraint=models.UniqueConstraint(condition=models.Q(('ended_on', None), ('withdrawn_at', None)), fields=('facility', 'person', 'operator_class'), name='designated_once_at_a_time'),
        ),
        migrations.AddConstraint(
            model_name='plansubject',
            constraint=models.UniqueConstraint(fields=('fact', 'component'), name='plan_subject_named_once'),
        ),
        migrations.AddConstraint(
            model_name='plan',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='plan_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='plan',
            constraint=models.CheckConstraint(condition=models.Q(('type', ''), _negated=True), name='plan_type_stated'),
        ),
        migrations.AddConstraint(
            model_name='plan',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('to_ethanol_pct', None), ('to_ethanol_pct__range', (0, 100)), _connector='OR'), models.Q(('to_biodiesel_pct', None), ('to_biodiesel_pct__range', (0, 100)), _connector='OR')), name='plan_blend_is_a_percentage'),
        ),
        migrations.AddConstraint(
            model_name='release',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='release_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='release',
            constraint=models.CheckConstraint(condition=models.Q(('identified_at', None), models.Q(('identified_on', None), _negated=True), _connector='OR'), name='release_identification_has_a_day'),
        ),
        migrations.AddConstraint(
            model_name='siteevent',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='siteevent_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='siteevent',
            constraint=models.CheckConstraint(condition=models.Q(('type__in', ['ownership change', 'designated operator change', 'breakaway parted', 'cover cancelled', 'owner bankruptcy', 'flood warning'])), name='site_event_type_known'),
        ),
        migrations.AddConstraint(
            model_name='spill',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='spill_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='spill',
            constraint=models.CheckConstraint(condition=models.Q(('gal_to_environment', None), ('gal_to_environment__gte', 0), _connector='OR'), name='spill_gallons_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='spillknowledge',
            constraint=models.UniqueConstraint(fields=('spill', 'party'), name='party_named_once_a_spill'),
        ),
        migrations.AddConstraint(
            model_name='spillknowledge',
            constraint=models.CheckConstraint(condition=models.Q(('party', ''), _negated=True), name='spill_party_named'),
        ),
        migrations.RunPython(install, remove),
    ]
