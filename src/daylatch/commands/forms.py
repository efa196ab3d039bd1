"""Every form that a command can write, a line each.

From its line follow what ``--to`` takes and the help says of it, what a file's ending means, and
the reference page of forms.
"""

from __future__ import annotations

from daylatch.files.forms import Form

FORMS: dict[str, tuple[Form, ...]] = {
    "plan": (
        Form("text", (".txt",), "daylatch.plan.text"),
        Form("csv", (".csv",), "daylatch.plan.csv"),
        Form("ics", (".ics",), "daylatch.calendars.plan_calendar", has_id=True, is_calendar=True),
        Form("json", (".json",), "daylatch.plan.json", has_id=True),
        Form("table", (), "daylatch.door.table.file"),
    ),
    "settings": (
        Form("text", (".txt",), "daylatch.door.timer.text"),
        Form("csv", (".csv",), "daylatch.door.timer.csv"),
        Form("ics", (".ics",), "daylatch.calendars.timer", has_id=True, is_calendar=True),
        Form("html", (".html", ".htm"), "daylatch.paper.pages.timer_html", needs_pictures=True),
        Form("json", (".json",), "daylatch.door.timer.json", has_id=True),
    ),
    "settings --lamp": (
        Form("text", (".txt",), "daylatch.birds.lamp_list.text"),
        Form("csv", (".csv",), "daylatch.birds.lamp_list.csv"),
        Form("ics", (".ics",), "daylatch.calendars.lamp_timer", has_id=True, is_calendar=True),
        Form(
            "html", (".html", ".htm"), "daylatch.paper.pages.lamp_timer_html", needs_pictures=True
        ),
        Form("json", (".json",), "daylatch.birds.lamp_list.json", has_id=True),
    ),
    "drift": (
        Form("text", (".txt",), "daylatch.door.drift.text"),
        Form("csv", (".csv",), "daylatch.door.drift.csv"),
        Form("json", (".json",), "daylatch.door.drift.json", has_id=True),
    ),
    "power": (
        Form("text", (".txt",), "daylatch.door.power.text"),
        Form("csv", (".csv",), "daylatch.door.power.csv"),
        Form("json", (".json",), "daylatch.door.power.json", has_id=True),
        Form("svg", (".svg",), "daylatch.paper.pictures.svg", needs_pictures=True),
        Form("png", (".png",), "daylatch.paper.pictures.png", needs_pictures=True),
        Form("pdf", (".pdf",), "daylatch.paper.pictures.pdf", needs_pictures=True),
    ),
    "simulate": (
        Form("text", (".txt",), "daylatch.door.simulate.text"),
        Form("csv", (".csv",), "daylatch.door.simulate.csv"),
    ),
    "nights": (
        Form("text", (".txt",), "daylatch.birds.nights.text"),
        Form("csv", (".csv",), "daylatch.birds.nights.csv"),
        Form("json", (".json",), "daylatch.birds.nights.json", has_id=True),
    ),
    "fit": (
        Form("text", (".txt",), "daylatch.birds.fit.text"),
        Form("json", (".json",), "daylatch.birds.fit.json", has_id=True),
    ),
    "compare": (
        Form("text", (".txt",), "daylatch.birds.compare.text"),
        Form("csv", (".csv",), "daylatch.birds.compare.csv"),
        Form("json", (".json",), "daylatch.birds.compare.json", has_id=True),
    ),
    "daylength": (
        Form("text", (".txt",), "daylatch.birds.daylength.text"),
        Form("csv", (".csv",), "daylatch.birds.daylength.csv"),
        Form("ics", (".ics",), "daylatch.calendars.lamp", has_id=True, is_calendar=True),
        Form("json", (".json",), "daylatch.birds.daylength.json", has_id=True),
    ),
    "sunlight": (
        Form("text", (".txt",), "daylatch.birds.sunlight.text"),
        Form("csv", (".csv",), "daylatch.birds.sunlight.csv"),
        Form("json", (".json",), "daylatch.birds.sunlight.json", has_id=True),
        Form("svg", (".svg",), "daylatch.paper.pictures.svg", needs_pictures=True),
        Form("png", (".png",), "daylatch.paper.pictures.png", needs_pictures=True),
        Form("pdf", (".pdf",), "daylatch.paper.pictures.pdf", needs_pictures=True),
    ),
    "audit": (
        Form("text", (".txt",), "daylatch.diary.audit.text"),
        Form("csv", (".csv",), "daylatch.diary.audit.csv"),
        Form("json", (".json",), "daylatch.diary.audit.json", has_id=True),
        Form("svg", (".svg",), "daylatch.paper.pictures.svg", needs_pictures=True),
        Form("png", (".png",), "daylatch.paper.pictures.png", needs_pictures=True),
        Form("pdf", (".pdf",), "daylatch.paper.pictures.pdf", needs_pictures=True),
    ),
    "roosting": (
        Form("text", (".txt",), "daylatch.diary.roosting.text"),
        Form("csv", (".csv",), "daylatch.diary.roosting.csv"),
        Form("json", (".json",), "daylatch.diary.roosting.json", has_id=True),
        Form("svg", (".svg",), "daylatch.paper.pictures.svg", needs_pictures=True),
        Form("png", (".png",), "daylatch.paper.pictures.png", needs_pictures=True),
        Form("pdf", (".pdf",), "daylatch.paper.pictures.pdf", needs_pictures=True),
    ),
    "card": (
        Form("pdf", (".pdf",), "daylatch.paper.pages.card_pdf", needs_pictures=True),
        Form("html", (".html", ".htm"), "daylatch.paper.pages.card_html", needs_pictures=True),
    ),
    "away": (
        Form("pdf", (".pdf",), "daylatch.paper.pages.sheet_pdf", needs_pictures=True),
        Form("html", (".html", ".htm"), "daylatch.paper.pages.sheet_html", needs_pictures=True),
        Form("ics", (".ics",), "daylatch.calendars.looks", has_id=True, is_calendar=True),
    ),
    "draw": (
        Form("svg", (".svg",), "daylatch.paper.pictures.svg", needs_pictures=True),
        Form("png", (".png",), "daylatch.paper.pictures.png", needs_pictures=True),
        Form("pdf", (".pdf",), "daylatch.paper.pictures.pdf", needs_pictures=True),
    ),
    "report": (
        Form("html", (".html", ".htm"), "daylatch.paper.pages.report", needs_pictures=True),
    ),
}
"""By command. Those that print take ``--to`` and write the first of theirs if nothing is said; the
others write a file, and its ending says which form."""


PICTURES = ("year", "nights", "compare")
"""What `draw` draws."""


def form_named(command: str, name: str) -> Form:
    """Return a form of a command by its name.

    Raises
    ------
    KeyError
        If it has none of that name.
    """
    return {form.name: form for form in FORMS[command]}[name]


def endings(command: str) -> list[str]:
    """Return what the names of files that a command writes may end in, one for each form."""
    return [form.endings[0] for form in FORMS[command] if form.endings]


def refusal(command: str, ending: str) -> str:
    """Return what is said of a file whose ending is that of no form of the command.

    Parameters
    ----------
    command
        The one that was asked for it.
    ending
        With its dot; empty if the name has none.
    """
    from daylatch.wording import listed  # noqa: PLC0415 - the help must not pay for numpy

    own = listed(endings(command), "or")
    text = f"the end of the name says what is written: {command} writes {own}"
    others = [name for name in FORMS if ending in _all_endings(name)]
    if others:
        if ending == ".pdf" and ".html" in _all_endings(command):
            text += "; a browser prints an .html file to PDF"
        commands = "command" if len(others) == 1 else "commands"
        text += f"; {ending} files come from the {commands} {listed(others, 'or')}"
    elif any(not form.endings for form in FORMS[command]):
        nameless = next(form.name for form in FORMS[command] if not form.endings)
        text += f" (a {nameless} may have any ending: add --to {nameless})"
    return text


def _all_endings(command: str) -> set[str]:
    return {ending for form in FORMS[command] for ending in form.endings}
