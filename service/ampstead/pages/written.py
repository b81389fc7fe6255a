"""Pages as they are sent: templates filled in, and made small.

Most of a page is its form, and most of a form is alike on every page of its calculator: a field into which nobody has
typed is written once and kept. What somebody typed is never kept.
"""

import re
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from ampstead.errors import capitalised
from ampstead.pages.fields import Field

TEMPLATES = Path(__file__).parent / "templates"
MOST_KEPT = 4096
"""Fields: all that the calculators have, with room for what is taken where nothing is told."""
_QUOTED = re.compile(r'="([A-Za-z0-9_-]+)"(?=[ >])')
"""An attribute that needs no quotes: a tenth of a page is spared."""


def page(template: str, **told: Any) -> str:
    """A whole page."""
    return _templates().get_template(template).render(**told)


def _field(field: Field) -> Markup:
    return _new(field) if field.told or field.errors else _kept(field)


def _new(field: Field) -> Markup:
    return Markup(_small(_macros().field(field)))


@lru_cache(maxsize=MOST_KEPT)
def _kept(field: Field) -> Markup:
    return _new(field)


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
    made.globals["written"] = _field
    return made
