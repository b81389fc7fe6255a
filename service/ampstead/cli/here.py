"""Questions of the command line answered in this process."""

from ampstead.calculators import registry
from ampstead.cli.answer import Answer
from ampstead.errors import Problem
from ampstead.reading.raw import JSON
from ampstead.replying.beyond import places
from ampstead.replying.forms import FORMS, form_of, problem, reply, unknown


def asked(path: str, query: str, body: bytes) -> Answer:
    """What the service would answer at a path, asked by a query or by a body of JSON."""
    form = form_of(path)
    name = path.removesuffix(form.suffix)
    calculator = registry().get(name)
    beyond = places(registry()).get(path)
    if beyond is not None:
        made = reply(*beyond, "POST" if body else "GET", query, body, JSON)
    elif calculator is None:
        made = unknown(name, FORMS[""])
    elif not form.offered(calculator):
        made = problem(Problem(404, f"There is no {path}: {name} has no such form."), FORMS[""])
    else:
        made = reply(calculator, form, "POST" if body else "GET", query, body, JSON)
    return Answer(made.status, made.body)
