"""Runs by the clock: steps of a stage, expected removal, pieces that run together; masses."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0008_frozen_gauge_care'),
    ]

    operations = [
        migrations.CreateModel(
            name='Weighing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('by', models.CharField(max_length=150)),
                ('reason', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('version', models.PositiveIntegerField(default=1)),
                ('pieces', models.JSONField()),
                ('text', models.CharField(max_length=60)),
                ('mass_kg', models.FloatField()),
                ('uncertainty_kg', models.FloatField()),
                ('balance', models.CharField(blank=True, max_length=100)),
                ('void', models.TextField(null=True)),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='run',
            name='one_run_at_a_time_on_a_station',
        ),
        migrations.AddField(
            model_name='run',
            name='expected_s_m',
            field=models.JSONField(default=list),
        ),
        migrations.AddField(
            model_name='run',
            name='step',
            field=models.CharField(default='whole', max_length=6),
        ),
        migrations.AddField(
            model_name='run',
            name='time_s',
            field=models.FloatField(null=True),
        ),
        migrations.AddField(
            model_name='run',
            name='with_run',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='companions', to='records.run'),
        ),
        migrations.AddConstraint(
            model_name='run',
            constraint=models.UniqueConstraint(condition=models.Q(('ended_at', None), ('with_run', None)), fields=('station',), name='one_run_at_a_time_on_a_station'),
        ),
        migrations.AddField(
            model_name='weighing',
            name='wafer',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='weighings', to='records.wafer'),
        ),
        migrations.AddField(
            model_name='weighing',
            name='with_weighing',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='companions', to='records.weighing'),
        ),
    ]
