"""A page as somebody without a script has it: its texts, its links and its forms."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import NamedTuple


class Form(NamedTuple):
    """A form: where it is sent, what it holds, and what stands on its button."""

    action: str
    fields: dict[str, str]
    words: str


class PageReader(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: dict[str, str] = {}
        self.texts: list[str] = []
        self._form: tuple[str, dict[str, str], list[str]] | None = None
        self._link = ""
        self._in_button = False
        self._root = ""
        self.feed(text)

    def _from_the_beginning(self, address: str) -> str:
        """Return an address as the server has it; pages lead to each other by relative ones."""
        return address.removeprefix(self._root) if self._root else address

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "link" and given.get("rel") == "stylesheet":
            self._root = given["href"].partition("/assets/")[0]
        elif tag == "form":
            assert given.get("method") == "post"
            self._form = self._from_the_beginning(given.get("action", "")), {}, []
        elif tag == "input" and self._form:
            self._form[1][given["name"]] = given.get("value", "")
        elif tag == "button":
            self._in_button = True
        elif tag == "a":
            self._link = self._from_the_beginning(given.get("href", ""))

    def handle_endtag(self, tag):
        if tag == "form":
            action, fields, words = self._form
            self.forms.append(Form(action, fields, " ".join(words)))
            self._form = None
        elif tag == "button":
            self._in_button = False
        elif tag == "a":
            self._link = ""

    def handle_data(self, data):
        words = " ".join(data.split())
        if not words:
            return
        self.texts.append(words)
        if self._in_button and self._form:
            self._form[2].append(words)
        if self._link:
            self.links[words] = self._link

    @property
    def text(self) -> str:
        return " ".join(self.texts)

    def form(self, words: str) -> Form:
        """Return the first form whose button says something."""
        found = [form for form in self.forms if form.words == words]
        assert found, [form.words for form in self.forms]
        return found[0]
