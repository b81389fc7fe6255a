"""What a person gets where a request fails before or beside the question itself: a page that says what to do.

A program gets the problem document as ever. The page stands by itself, with its style in it: where nothing is served
for want of a key, or since too much was asked, its looks would not be served either.
"""

from base64 import b64encode
from functools import lru_cache
from hashlib import sha256

from werkzeug.datastructures import MIMEAccept
from werkzeug.http import parse_accept_header

from ampstead.calculators import registry
from ampstead.errors import Problem, did_you_mean
from ampstead.pages import sent, written
from ampstead.pages.packs import LONGEST_LIST
from ampstead.replying import forms

HTML = "text/html"
OF_PROGRAMS = ("/v1/", "/openapi.json", "/metrics", "/healthz", "/readyz", "/version")
"""Where no person is expected: the addresses that answer in other forms than pages."""
OFTEN = 256

SAID: dict[int, tuple[str, str]] = {
    400: ("This address cannot be read", "Begin anew from the list of questions."),
    401: (
        "A key is needed here",
        "This service answers programs that send a key with each question, which a browser cannot. "
        "Ask those who run it for one that is open to your browser, or for a key and a program that takes it.",
    ),
    404: ("There is no such page", "See whether its address is spelt right, or choose from all questions."),
    405: ("This page is asked in another way", "Open it anew, fill in its form and press Answer."),
    408: ("What you sent did not arrive in time", "See whether you have reception, go back and send it again."),
    413: ("That is too much at once", "Go back and leave out what is not needed."),
    414: (
        "This question is too long for an address",
        "Tell fewer packs, loads or readings at once: two shorter questions instead of one.",
    ),
    415: ("This cannot be read", "Open the page anew and use its own form."),
    429: ("You have asked very often", "Nothing is broken. Wait a minute, then load this page again."),
    431: (
        "Your browser sends too much with its question",
        "Clear what it keeps for this place (its cookies), or open the page in a private window.",
    ),
    500: (
        "The service failed at this",
        "The fault is noted, and not yours. Go back and ask otherwise; "
        "if it fails again, tell those who run the service.",
    ),
    503: ("The service is busy", "Wait some seconds, then load this page again."),
}
"""What to call each failure, and what to do about it."""
TOO_LONG_A_LIST = (
    "This list of packs is too long",
    f"At most {LONGEST_LIST // 1024} kB are read at once: send it in two parts, or leave old readings out.",
)
TOO_LONG_A_CODE = (
    "This question is too long for a code",
    "A camera could not read it. Go back and keep the page itself instead: bookmark it, or print it.",
)


def reply(fault: Problem, path: str, accept: str, root: str = "") -> forms.Reply:
    """What a failed request gets: a page where a browser shows it to a person, else the one shape of every error."""
    if not read_by_a_person(path, accept):
        return forms.problem(fault, forms.form_of(path))
    body, policy = _page(fault.status, _plain(path), root)
    headers = (
        *forms.headed_by(HTML, "no-store"),
        ("Content-Security-Policy", policy),
        ("Referrer-Policy", "no-referrer"),
    )
    return forms.Reply(fault.status, (*headers, *fault.headers.items()), body)


def read_by_a_person(path: str, accept: str) -> bool:
    """Whether an address is one of pages, or of none, and who asks would rather see a page than anything else."""
    return not path.startswith(OF_PROGRAMS) and path != "/v1" and _shown(accept)


@lru_cache(maxsize=OFTEN)
def _shown(accept: str) -> bool:
    wanted = parse_accept_header(accept, MIMEAccept)
    return wanted.best_match((forms.PROBLEM, "application/json", HTML)) == HTML and wanted.find(HTML) >= 0


def _plain(path: str) -> str:
    """The address of a page as far as the page of its failure speaks of it."""
    name = path.strip("/").partition(".")[0]
    known = name in registry() or name in ("packs", "card", "docs")
    return path if known else f"/{name[:40]}"


@lru_cache(maxsize=OFTEN)
def _page(status: int, path: str, root: str) -> tuple[bytes, str]:
    title, cure = SAID.get(status) or SAID[400 if status < 500 else 500]
    if status == 413 and path == "/packs":
        title, cure = TOO_LONG_A_LIST
    if status == 414 and path.endswith(".qr.svg"):
        title, cure = TOO_LONG_A_CODE
    name = path.strip("/").partition(".")[0]
    questions = {each.name: each.asked for each in registry().values()} | {"packs": "How do all my packs stand?"}
    meant = did_you_mean(name, questions).removeprefix("; did you mean ").removesuffix("?") if status == 404 else ""
    if status != 404 and name in questions:
        meant = name
    style, policy = _style()
    whole = written.page(
        "refused.html",
        root=root,
        title=title,
        cure=cure,
        meant=(meant, questions[meant]) if meant else None,
        style=style,
        guessed=status == 404,
    )
    return whole.encode(), policy


@lru_cache(maxsize=1)
def _style() -> tuple[str, str]:
    """The page's own style, and the policy that lets it in and nothing else."""
    style = sent.colours() + (sent.ASSETS / "refused.css").read_text(encoding="utf-8")
    known = b64encode(sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; img-src data:; style-src 'sha256-{known}'; base-uri 'none'; frame-ancestors 'none'"
    return style, policy
