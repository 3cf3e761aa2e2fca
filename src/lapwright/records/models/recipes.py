"""Recipes: settings of a kind of stage, version by version, approved, locked, and the runs that followed them."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Versioned
from lapwright.records.models.work import Run


class Recipe(Versioned):
    """A recipe by name; a locked one takes no new version."""

    recipe_id = models.CharField(max_length=60, unique=True)
    locked = models.BooleanField(default=False)


class RecipeVersion(AppendOnly):
    """The settings of one version."""

    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    settings = models.JSONField()

    class Meta:
        ordering = ["recipe_id", "number"]
        constraints = [models.UniqueConstraint(fields=["recipe", "number"], name="one_version_per_number")]


class RecipeApproval(AppendOnly):
    """A version approved; it holds from then on."""

    recipe_version = models.OneToOneField(RecipeVersion, on_delete=models.PROTECT, related_name="approval")


class RecipeUse(AppendOnly):
    """A run that followed a version."""

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="recipe_use")
    recipe_version = models.ForeignKey(RecipeVersion, on_delete=models.PROTECT, related_name="uses")
