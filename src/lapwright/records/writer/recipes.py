"""Writing recipes: versions, approvals, locks, and the runs that followed them."""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.readings import Signature
from lapwright.model.recipe import RunSettings
from lapwright.records import models
from lapwright.records.faults import one_transaction
from lapwright.records.queries import find
from lapwright.records.recipe_queries import plain
from lapwright.records.writer.base import add, change


def add_recipe_version(recipe_id: str, settings: RunSettings, signature: Signature) -> int:
    """A new version, of a new recipe when there is none of the name; its number."""
    with one_transaction():
        recipe = models.Recipe.objects.select_for_update().filter(recipe_id=recipe_id).first()
        if recipe is None:
            recipe = add(models.Recipe, signature, recipe_id=recipe_id)
        if recipe.locked:
            raise Conflict(f"The recipe {recipe_id!r} is locked. Unlock it, with the reason, to write a new version.")
        number = models.RecipeVersion.objects.filter(recipe=recipe).count() + 1
        add(models.RecipeVersion, signature, recipe=recipe, number=number, settings=plain(settings))
        return number


def approve_recipe(recipe_id: str, number: int, signature: Signature) -> None:
    """A version approved; it holds from now on."""
    with one_transaction():
        versions = models.RecipeVersion.objects.filter(recipe__recipe_id=recipe_id)
        version = find(versions, "number", number, what="version of this recipe")
        if models.RecipeApproval.objects.filter(recipe_version=version).exists():
            raise Conflict(f"Version {number} of {recipe_id!r} is approved already.")
        add(models.RecipeApproval, signature, recipe_version=version)


def lock_recipe(recipe_id: str, signature: Signature, *, locked: bool) -> None:
    """Lock a recipe, or open it again."""
    with one_transaction():
        recipe = find(models.Recipe.objects.select_for_update(), "recipe_id", recipe_id)
        if locked != recipe.locked:
            change(recipe, signature, locked=locked)


def note_recipe_use(run_id: int, recipe_id: str, number: int, signature: Signature) -> None:
    """A run that follows a version."""
    with one_transaction():
        version = find(models.RecipeVersion.objects.filter(recipe__recipe_id=recipe_id), "number", number)
        add(models.RecipeUse, signature, run_id=run_id, recipe_version=version)
