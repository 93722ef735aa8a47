"""How many rolls a result rests on was the number of rolls given; the engine's own word is in its dictionary."""

from django.db import migrations, models


def count_as_the_engine_did(apps, schema_editor):
    """Take the count from each result's dictionary; what was given beyond it had been left out."""
    pooled = apps.get_model("curves", "PooledAnalysis").objects
    for pk, given, counted in pooled.values_list("pk", "roll_count", "detail__roll_count"):
        if counted is not None and counted < given:
            pooled.filter(pk=pk).update(roll_count=counted, left_out_count=given - counted)


def count_as_before(apps, schema_editor):
    """Count the rolls that were given."""
    given = models.F("roll_count") + models.F("left_out_count")
    apps.get_model("curves", "PooledAnalysis").objects.update(roll_count=given)


class Migration(migrations.Migration):

    dependencies = [
        ("curves", "0002_spread_estimate"),
    ]

    operations = [
        migrations.AddField(
            model_name="pooledanalysis",
            name="left_out_count",
            field=models.PositiveIntegerField(
                default=0,
                help_text="Accepted rolls that could not be pooled, since they have no speed point.",
            ),
        ),
        migrations.AlterField(
            model_name="pooledanalysis",
            name="roll_count",
            field=models.PositiveIntegerField(help_text="Rolls that the numbers rest on."),
        ),
        migrations.RunPython(count_as_the_engine_did, count_as_before),
    ]
