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
from ampstead.pages.fields import ROOM, TAKEN, Field, Form, Part, Shaped, fields_of

TEMPLATES = Path(__file__).parent / "templates"
MOST_KEPT = 4096
"""Parts of forms: more than all calculators have, told or not."""
_PLAIN = re.compile(r"[A-Za-z0-9_-]+")
_QUOTED = re.compile(rf'="({_PLAIN.pattern})"(?=[ >])')
"""An attribute that needs no quotes: a tenth of a page is spared."""
_SIZED = re.compile(
    r"(?<=[0-9]) (?=(?:mAh|Ah|Wh|mV|V|mA|A|kW|W|mΩ|Ω|°C|C|K|%|mm²|m|g|s|min|h|AWG|kB|percent|cells?|degrees"
    r"|(?:milli)?(?:ampere|volt|watt|ohm)s?|minutes?|hours?|seconds?|days?)\b)"
)
_ROOM = re.compile(f'"{ROOM}"|{TAKEN}'.format("([^\ue001]*)", "([^\ue001]*)"))


@lru_cache(maxsize=4096)
def joined(text: str) -> str:
    """The same with every figure and its unit on one line."""
    return _SIZED.sub("\N{NO-BREAK SPACE}", text)


def page(template: str, **told: Any) -> str:
    """A whole page."""
    return _templates().get_template(template).render(**told)


def _parts(which: str, form: Form) -> Markup:
    """Parts of a form, and in them what was typed, and what is taken where nothing was."""
    shape = form.shape
    pieces = _pieces(shape, which) if shape.lasting else _split(_with_room(getattr(shape, which)))
    made = []
    for text, box, name in pieces:
        made.append(text)
        if box is not None:
            told = form.told.get(box, "")
            made.append(told if _PLAIN.fullmatch(told) else f'"{escape(told)}"')
        elif name is not None:
            made.append(str(escape(form.taken.get(name, ""))))
    return Markup("".join(made))


def _split(whole: str) -> list[tuple[str, str | None, str | None]]:
    """Text with room in it as pieces, each with the name of the box, or of the input, whose room follows it."""
    found = _ROOM.split(whole)
    return list(zip(found[::3], [*found[1::3], None], [*found[2::3], None], strict=True))


@lru_cache(maxsize=512)
def _pieces(shape: Shaped, which: str) -> list[tuple[str, str | None, str | None]]:
    return _split(_with_room(getattr(shape, which)))


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
    made.filters |= {"large": capitalised, "joined": joined}
    made.globals |= {"parts": _parts, "with_room": _with_room}
    return made
