"""Recipes: which pulls were made in the same way."""

from collections.abc import Iterable, Sequence

from proofkit.folder.edition import Edition, Pull

RECIPE_CELLS = ("paper", "dampening", "ink", "wiping", "pressure")
"""Cells of pulls.csv that make a recipe, where there is no cell `recipe` that names it."""

TRIAL = "trial"
"""A pull whose `kind` begins so is a candidate where edition.toml names none."""


def recipe_of(pull: Pull) -> dict[str, str]:
    """Return how a pull was made, as far as pulls.csv says; empty when it says nothing."""
    named = pull.notes.get("recipe", "").strip()
    if named:
        return {"recipe": named}
    return {cell: pull.notes[cell].strip() for cell in RECIPE_CELLS if pull.notes.get(cell, "").strip()}


def recipe_words(recipe: dict[str, str]) -> str:
    """Return a recipe on one line.

    >>> recipe_words({"ink": "batch 1", "wiping": "palm"})
    'ink: batch 1; wiping: palm'
    """
    if list(recipe) == ["recipe"]:
        return recipe["recipe"]
    return "; ".join(f"{cell}: {text}" for cell, text in recipe.items())


def same_recipe(pull: Pull, pulls: Iterable[Pull]) -> tuple[str, ...]:
    """Return the other pulls of the same state and recipe; none where the recipe is not written down."""
    recipe = recipe_of(pull)
    if not recipe:
        return ()
    state = pull.notes.get("state", "")
    return tuple(
        other.pull
        for other in pulls
        if other.pull != pull.pull and other.notes.get("state", "") == state and recipe_of(other) == recipe
    )


def candidates_of(edition: Edition) -> tuple[tuple[str, ...], list[str]]:
    """Return the pulls that a standard is chosen from, and what was assumed.

    Those that edition.toml names as `candidates`; else the trial proofs; else all pulls. Pulls of another state than
    most of them are left out: their plate is another.
    """
    remarks: list[str] = []
    trial = [pull for pull in edition.pulls if pull.notes.get("kind", "").casefold().startswith(TRIAL)]
    if edition.candidates:
        chosen = [pull for pull in edition.pulls if pull.pull in edition.candidates]
    elif len(trial) > 1:
        chosen = trial
    else:
        chosen = list(edition.pulls)
        remarks.append(
            "edition.toml names no candidates and pulls.csv no trial proofs (kind): all pulls are compared."
        )
    states = [pull.notes.get("state", "") for pull in chosen]
    state = max(dict.fromkeys(states), key=states.count)
    left_out = [pull.pull for pull in chosen if pull.notes.get("state", "") != state]
    if left_out:
        remarks.append(
            f"Left out, being of another state than {state or 'the others'}: pull {', '.join(left_out)}."
        )
    return tuple(pull.pull for pull in chosen if pull.pull not in left_out), remarks


def differing_cells(recipes: Sequence[dict[str, str]]) -> list[str]:
    """Return the cells in which recipes differ, in their order.

    >>> differing_cells([{"ink": "a", "wiping": "palm"}, {"ink": "a", "wiping": "rag"}])
    ['wiping']
    """
    cells = dict.fromkeys(cell for recipe in recipes for cell in recipe)
    return [cell for cell in cells if len({recipe.get(cell, "") for recipe in recipes}) > 1]
