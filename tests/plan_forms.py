"""The forms of a plan, by their names, as the command line finds them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.forms import FORMS, form_named
from daylatch.plan.due import exactly

if TYPE_CHECKING:
    from daylatch.files.forms import Writer
    from daylatch.files.occasion import Occasion
    from daylatch.plan.plan import Plan

EXPORTS = [form.name for form in FORMS["plan"]]


def get_writer(name: str) -> Writer:
    return form_named("plan", name).writer()


def written(name: str, plan: Plan, occasion: Occasion) -> bytes:
    """Return a plan in a form, where the door moves to the planned minute."""
    return get_writer(name).render(plan if name == "table" else exactly(plan), occasion)
