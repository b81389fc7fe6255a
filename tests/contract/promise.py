"""What a newer document breaks of an older one: `/v1/` only grows.

    python tests/contract/promise.py    keeps the present document as the released one

What a caller sends must still be taken, and mean the same; what a caller reads must still be there, in its unit and of
its kind. Bounds and defaults are no part of it: they follow what is found to be safe. Words are not compared, nor
whether one of several inputs has to be given, which a document may come to say later than the service does.
"""

import json
import lzma
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parents[2]
RELEASED = Path(__file__).with_name("released.json.xz")
"""The document of the last release."""
Schema = Mapping[str, Any]
METHODS = {"get", "post", "put", "delete", "patch"}
LONGEST = {"maxLength", "maxItems"}


def released() -> dict[str, Any]:
    """The document of the last release."""
    document: dict[str, Any] = json.loads(lzma.decompress(RELEASED.read_bytes()))
    return document


def broken(old: Schema, new: Schema) -> list[str]:
    """Where a newer document breaks the older one; empty where it only grows."""
    return list(Comparison(old, new).paths())


class Comparison:
    """Two documents, each with its own references."""

    def __init__(self, old: Schema, new: Schema) -> None:
        self.old, self.new = old, new
        self.known: dict[tuple[str, str, bool], list[str]] = {}

    def paths(self) -> Iterator[str]:
        for path, item in self.old["paths"].items():
            now = self.new["paths"].get(path, {})
            for method in METHODS & item.keys():
                place = f"{method.upper()} {path}"
                if method not in now:
                    yield f"{place} is gone"
                    continue
                before, after = (with_shared(one, method) for one in (item, now))
                yield from (f"{place}: {fault}" for fault in self.operation(before, after))

    def operation(self, before: Schema, after: Schema) -> Iterator[str]:
        sent = {resolved(self.old, each)["name"]: resolved(self.old, each) for each in before.get("parameters", ())}
        taken = {resolved(self.new, each)["name"]: resolved(self.new, each) for each in after.get("parameters", ())}
        yield from (f"{name} is not taken any more" for name in sent if name not in taken)
        for name, parameter in taken.items():
            if parameter.get("required") and not sent.get(name, {}).get("required"):
                yield f"{name} is needed now"
            if name in sent:
                for fault in self.differ(sent[name]["schema"], parameter["schema"], taken=True):
                    yield f"{name} {fault}"
        gone = [form for form in before.get("x-forms", ()) if form not in after.get("x-forms", ())]
        yield from (f".{form} is gone" for form in gone)
        if before.get("x-most-rows", 0) > after.get("x-most-rows", 0):
            yield f"takes {after.get('x-most-rows', 0)} at once, not {before['x-most-rows']}"
        bodies = (resolved(d, each.get("requestBody", {})) for d, each in ((self.old, before), (self.new, after)))
        yield from self.content(*bodies, taken=True)
        for status, reply in before["responses"].items():
            if status.startswith("2"):
                now = after["responses"].get(status, {})
                yield from self.content(resolved(self.old, reply), resolved(self.new, now), taken=False)

    def content(self, before: Schema, after: Schema, *, taken: bool) -> Iterator[str]:
        for media, told in before.get("content", {}).items():
            now = after.get("content", {}).get(media)
            if now is None:
                yield f"{media} is gone"
            else:
                yield from self.differ(told.get("schema", {}), now.get("schema", {}), taken=taken)

    def differ(self, old: Schema, new: Schema, *, taken: bool) -> list[str]:
        """How a schema breaks its elder, as what callers send (``taken``) or as what they read."""
        key = (json.dumps(old, sort_keys=True), json.dumps(new, sort_keys=True), taken)
        if key not in self.known:
            self.known[key] = []  # what refers to itself is compared once
            self.known[key] = list(self._differ(resolved(self.old, old), resolved(self.new, new), taken))
        return self.known[key]

    def _differ(self, old: Schema, new: Schema, taken: bool) -> Iterator[str]:
        if "x-unit" in old and new.get("x-unit", old["x-unit"]) != old["x-unit"]:
            yield f"is in {new.get('x-unit')}, not in {old['x-unit']}"
        before, after = alternatives(old), alternatives(new)
        if len(before) > 1 or len(after) > 1:
            for one in before if taken else after:
                pairs = [(one, other) if taken else (other, one) for other in (after if taken else before)]
                faults = [self.differ(*pair, taken=taken) for pair in pairs]
                if all(faults):
                    yield min(faults, key=len)[0]
            return
        yield from self._one(old, new, taken)

    def _one(self, old: Schema, new: Schema, taken: bool) -> Iterator[str]:
        wider, narrower = (kinds(new), kinds(old)) if taken else (kinds(old), kinds(new))
        if wider and not narrower <= wider:
            yield f"is {' or '.join(sorted(kinds(new)))}, not {' or '.join(sorted(kinds(old)))}"
        wide, narrow = (words(new), words(old)) if taken else (words(old), words(new))
        if wide is not None and (narrow is None or not narrow <= wide):
            yield f"is one of other words: {sorted(map(str, (narrow or set()) ^ wide))}"
        for limit in LONGEST & old.keys() & new.keys() if taken else ():
            if new[limit] < old[limit]:
                yield f"has a {limit} of {new[limit]}, not {old[limit]}"
        before, after = old.get("properties", {}), new.get("properties", {})
        needed, still = set(old.get("required", ())), set(new.get("required", ()))
        yield from (f".{name} is gone" for name in before if name not in after)
        yield from (f".{name} is needed now" for name in sorted(still - needed) if taken)
        yield from (f".{name} is not always there" for name in sorted(needed - still) if not taken and name in after)
        for name in before.keys() & after.keys():
            yield from (f".{name} {fault}" for fault in self.differ(before[name], after[name], taken=taken))
        if "items" in old and "items" in new:
            yield from (f"[] {fault}" for fault in self.differ(old["items"], new["items"], taken=taken))
        if taken:
            yield from rules(old, new, set(before))


def rules(old: Schema, new: Schema, known: set[str]) -> Iterator[str]:
    """Exclusions that are new among what was there before."""
    before = old.get("x-one-of", ())
    for rule in new.get("x-one-of", ()):
        names = set(rule["names"]) & known
        elder = next((each for each in before if names <= set(each["names"])), None)
        if len(names) > 1 and elder is None:
            yield f"excludes each other now: {', '.join(sorted(names))}"


def resolved(document: Schema, schema: Schema) -> Schema:
    """A schema with what it refers to and is made of, its own words first."""
    while "$ref" in schema:
        found: Any = document
        for part in schema["$ref"].removeprefix("#/").split("/"):
            found = found[part]
        schema = {**found, **{name: entry for name, entry in schema.items() if name != "$ref"}}
    whole = dict(schema)
    for part in [resolved(document, each) for each in whole.pop("allOf", ())]:
        properties = {**part.get("properties", {}), **whole.get("properties", {})}
        needed = [*part.get("required", ()), *whole.get("required", ())]
        whole = {**part, **whole, "properties": properties, "required": needed}
    return whole


def with_shared(item: Schema, method: str) -> Schema:
    """An operation with the parameters that its path has for all."""
    own: Schema = item[method]
    return {**own, "parameters": [*item.get("parameters", ()), *own.get("parameters", ())]}


def alternatives(schema: Schema) -> list[Schema]:
    found: list[Schema] = [*schema.get("anyOf", ()), *schema.get("oneOf", ())]
    return found or [schema]


def kinds(schema: Schema) -> set[str]:
    """The types that a schema allows; none where it allows any. Every integer is a number."""
    told = schema.get("type", [])
    found = {told} if isinstance(told, str) else set(told)
    return found | {"integer"} if "number" in found else found


def words(schema: Schema) -> set[Any] | None:
    """The values that a schema allows; None where it names none."""
    if "const" in schema:
        return {schema["const"]}
    return set(schema["enum"]) if "enum" in schema else None


if __name__ == "__main__":
    RELEASED.write_bytes(lzma.compress((TOP / "openapi" / "openapi.json").read_bytes(), preset=9))
    print(f"{RELEASED.name} written, {RELEASED.stat().st_size} bytes")
