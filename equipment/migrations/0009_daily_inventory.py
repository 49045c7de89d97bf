"""Days of inventory control. As in 0002, triggers refuse what reaches into another facility."""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models

same_facility = import_module("equipment.migrations.0002_same_facility")

LINKS = [
    ("equipment_inventoryday", "component_id", "equipment_component", "NEW.facility_id"),
    ("equipment_inventoryday", "supersedes_id", "equipment_inventoryday", "NEW.facility_id"),
]


def install(apps, schema_editor):
    same_facility.install_links(schema_editor, LINKS)


def remove(apps, schema_editor):
    same_facility.remove_links(schema_editor, LINKS)


class Migration(migrations.Migration):

    dependencies = [
        ('equipment', '0008_tank_charts'),
    ]

    operations = [
        migrations.CreateModel(
            name='InventoryDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500, null=True)),
                ('withdrawn_by', models.CharField(blank=True, max_length=200, null=True)),
                ('recorded_at', models.DateTimeField()),
                ('recorded_by', models.CharField(help_text='the person or key that sent it', max_length=200)),
                ('on', models.DateField(help_text='local day at the facility')),
                ('idle', models.BooleanField(default=False, help_text='the site was shut: nobody pumped, delivered or read')),
                ('measured_by', models.CharField(blank=True, choices=[('stick', 'Stick'), ('gauge', 'Gauge')], max_length=10, null=True)),
                ('opening_gal', models.FloatField(blank=True, null=True)),
                ('basis', models.CharField(blank=True, choices=[('stick', 'Stick'), ('book', 'Book')], help_text='what opening_gal continues', max_length=10, null=True)),
                ('readings', models.JSONField(blank=True, default=list)),
                ('meters', models.JSONField(blank=True, default=list)),
                ('pumped_gal', models.FloatField(blank=True, help_text='where no totals were stated', null=True)),
                ('returned_gal', models.FloatField(default=0, help_text='metered and poured back')),
                ('refill_gal', models.FloatField(default=0, help_text='filled an empty line, unmetered')),
                ('note', models.CharField(blank=True, max_length=1000, null=True)),
                ('reason', models.CharField(blank=True, help_text='why it was corrected', max_length=500, null=True)),
                ('component', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='inventory_days', to='equipment.component')),
                ('facility', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.facility')),
                ('submitted_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='equipment.organisation')),
                ('supersedes', models.ForeignKey(blank=True, help_text='what it corrects', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='equipment.inventoryday')),
            ],
        ),
        migrations.CreateModel(
            name='InventoryDelivery',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('before', models.JSONField(blank=True, default=list)),
                ('after', models.JSONField(blank=True, default=list)),
                ('pumped_meanwhile_gal', models.FloatField(default=0)),
                ('receipt_gal', models.FloatField(blank=True, help_text='gross gallons on the receipt', null=True)),
                ('receipt', models.CharField(blank=True, help_text='number of the receipt', max_length=100, null=True)),
                ('product_degf', models.FloatField(blank=True, help_text='of the delivered product', null=True)),
                ('tank_degf', models.FloatField(blank=True, help_text='of the product in the tank before', null=True)),
                ('api_gravity', models.FloatField(blank=True, help_text='at 60 °F', null=True)),
                ('day', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='deliveries', to='equipment.inventoryday')),
            ],
        ),
        migrations.AddIndex(
            model_name='inventoryday',
            index=models.Index(fields=['component', 'on'], name='inventory_by_day'),
        ),
        migrations.AddConstraint(
            model_name='inventoryday',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', None)), models.Q(models.Q(('withdrawn_at', None), _negated=True), models.Q(('withdrawn_reason', None), _negated=True), models.Q(('withdrawn_by', None), _negated=True)), _connector='OR'), name='inventoryday_withdrawn_with_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='inventoryday',
            constraint=models.UniqueConstraint(condition=models.Q(('supersedes', None), ('withdrawn_at', None)), fields=('component', 'on'), name='one_closing_a_day'),
        ),
        migrations.AddConstraint(
            model_name='inventoryday',
            constraint=models.UniqueConstraint(condition=models.Q(('withdrawn_at', None)), fields=('supersedes',), name='inventory_day_corrected_once'),
        ),
        migrations.AddConstraint(
            model_name='inventoryday',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('reason', None), ('supersedes', None)), models.Q(models.Q(('supersedes', None), _negated=True), models.Q(('reason', None), _negated=True)), _connector='OR'), name='inventory_correction_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='inventoryday',
            constraint=models.CheckConstraint(condition=models.Q(('refill_gal__gte', 0), ('returned_gal__gte', 0), models.Q(('opening_gal', None), ('opening_gal__gte', 0), _connector='OR'), models.Q(('pumped_gal', None), ('pumped_gal__gte', 0), _connector='OR')), name='inventory_gallons_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='inventoryday',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('basis', None), ('opening_gal', None)), models.Q(models.Q(('opening_gal', None), _negated=True), models.Q(('basis', None), _negated=True)), _connector='OR'), name='inventory_opening_has_a_basis'),
        ),
        migrations.AddConstraint(
            model_name='inventorydelivery',
            constraint=models.CheckConstraint(condition=models.Q(('pumped_meanwhile_gal__gte', 0), models.Q(('receipt_gal', None), ('receipt_gal__gte', 0), _connector='OR')), name='inventory_delivery_not_negative'),
        ),
        migrations.RunPython(install, remove),
    ]
