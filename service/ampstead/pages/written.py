"""Pages as they are sent: templates filled in, and made small.

Most of a page is its form, and most of a form is alike on every page of its calculator: its parts are written once and
kept, with room for what is typed into them. What somebody typed is never kept.
"""

import re
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup, escape

from ampstead.errors import capitalised
from ampstead.pages.fields import ROOM, TAKEN, Field, Form, Part, fields_of

TEMPLATES = Path(__file__).parent / "templates"
MOST_KEPT = 4096
"""Parts of forms: more than all calculators have, told or not."""
_PLAIN = re.compile(r"[A-Za-z0-9_-]+")
_QUOTED = re.compile(rf'="({_PLAIN.pattern})"(?=[ >])')
"""An attribute that needs no quotes: a tenth of a page is spared."""
_ROOM = re.compile(f'"{ROOM}"|{TAKEN}'.format("([^\ue001]*)", "([^\ue001]*)"))


def page(template: str, **told: Any) -> str:
    """A whole page."""
    return _templates().get_template(template).render(**told)


def _parts(parts: tuple[Part, ...], form: Form) -> Markup:
    """Parts of a form, and in them what was typed, and what is taken where nothing was."""

    def filled(room: re.Match[str]) -> str:
        box, name = room.groups()
        if box is None:
            return escape(form.taken.get(name, ""))
        told = form.told.get(box, "")
        return told if _PLAIN.fullmatch(told) else f'"{escape(told)}"'

    return Markup(_ROOM.sub(filled, _with_room(parts)))


def _with_room(parts: tuple[Part, ...]) -> Markup:
    return Markup("".join([f"{_new(part) if _is_wrong(part) else _kept(part)}\n" for part in parts]))


def _is_wrong(part: Part) -> bool:
    """Whether anything is said of a part that nobody else's has: then it is not kept. Neither are rows, of which
    there may be any number; what they are made of is."""
    if isinstance(part, Field):
        return bool(part.errors)
    return part.kind == "rows" or any(field.errors for field in fields_of((part,)))


def _new(part: Part) -> str:
    macros = _macros()
    macro = {"ways": macros.ways, "rows": macros.rows}.get(part.kind)
    # Between the boxes of a form a new line shows as nothing.
    return (_small(macros.field(part)) if macro is None else str(macro(part)).strip()).replace(">\n<", "><")


@lru_cache(maxsize=MOST_KEPT)
def _kept(part: Part) -> str:
    return _new(part)


def _small(html: str) -> str:
    """The same without indents, blank lines and needless quotes; of a template as of what it has become."""
    lines = "\n".join([line for each in html.splitlines() if (line := each.strip())])
    return _QUOTED.sub(r"=\1", lines.replace("\n<option", "<option"))


@lru_cache(maxsize=1)
def _macros() -> Any:
    return _templates().get_template("parts.html").module


@lru_cache(maxsize=1)
def _templates() -> Environment:
    made = Environment(
        loader=FunctionLoader(lambda name: _small((TEMPLATES / name).read_text(encoding="utf-8"))),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        auto_reload=False,
    )
    made.filters["large"] = capitalised
    made.globals |= {"parts": _parts, "with_room": _with_room}
    return made
