"""Care of gauges: corrections and findings of calibrations, check standards, checks, studies, flagged sets."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0006_frozen_surfaces'),
    ]

    operations = [
        migrations.CreateModel(
            name='CheckStandard',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('by', models.CharField(max_length=150)),
                ('reason', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('version', models.PositiveIntegerField(default=1)),
                ('standard_id', models.CharField(max_length=60, unique=True)),
                ('definition', models.JSONField()),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='calibration',
            name='as_found_m',
            field=models.FloatField(null=True),
        ),
        migrations.AddField(
            model_name='calibration',
            name='curve',
            field=models.JSONField(null=True),
        ),
        migrations.AddField(
            model_name='calibration',
            name='interval_days',
            field=models.PositiveIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='readingset',
            name='gauge_flag',
            field=models.TextField(null=True),
        ),
        migrations.CreateModel(
            name='GaugeCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('by', models.CharField(max_length=150)),
                ('reason', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('text', models.CharField(max_length=60)),
                ('unit', models.CharField(max_length=10)),
                ('value_m', models.FloatField()),
                ('gauge', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='checks', to='records.gauge')),
                ('standard', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='checks', to='records.checkstandard')),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='GaugeStudy',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('by', models.CharField(max_length=150)),
                ('reason', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('version', models.PositiveIntegerField(default=1)),
                ('study_id', models.CharField(max_length=60, unique=True)),
                ('plan', models.JSONField()),
                ('state', models.CharField(db_index=True, max_length=10)),
                ('figures', models.JSONField(null=True)),
                ('filed_by', models.CharField(max_length=150, null=True)),
                ('filed_reason', models.TextField(null=True)),
                ('filed_at', models.DateTimeField(null=True)),
                ('gauge', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='studies', to='records.gauge')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='StudyReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('by', models.CharField(max_length=150)),
                ('reason', models.TextField(blank=True)),
                ('at', models.DateTimeField()),
                ('line', models.PositiveIntegerField()),
                ('text', models.CharField(max_length=60)),
                ('unit', models.CharField(max_length=10)),
                ('value_m', models.FloatField()),
                ('corrects', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='records.studyreading')),
                ('study', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='records.gaugestudy')),
            ],
            options={
                'ordering': ['study_id', 'pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('corrects', None)), fields=('study', 'line'), name='one_first_reading_per_line')],
            },
        ),
    ]
