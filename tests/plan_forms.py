"""The forms of a plan, by their names, as the command line finds them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.forms import FORMS, form_named

if TYPE_CHECKING:
    from daylatch.files.forms import Writer

EXPORTS = [form.name for form in FORMS["plan"]]


def get_writer(name: str) -> Writer:
    return form_named("plan", name).writer()
