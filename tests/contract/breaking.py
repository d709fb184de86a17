"""What a later document of the API takes from those who keep to an earlier one.

Within v1 a request that was right stays right, and an answer keeps what was promised of it. So a later document may
take more and answer more: new paths, fields of requests that may be left out, wider bounds, fields of answers, and
words in answers. Everything else is told here.
"""

import json
import operator
from collections.abc import Callable, Iterator
from typing import Any

Part = dict[str, Any]
# keywords that say how much a request may have, and whether more or less of it is stricter
_LEAST = ("minimum", "minLength", "minItems")
_MOST = ("maximum", "maxLength", "maxItems")
_SHAPE = frozenset({"$ref", "type", "properties", "enum", "const", "items"})


def breaks(before: Part, after: Part) -> list[str]:
    """Return what breaks a client of the earlier document, each with its place."""
    return list(dict.fromkeys(_Comparison(before, after).found()))


class _Comparison:
    def __init__(self, before: Part, after: Part) -> None:
        self.before, self.after = before, after
        self.seen: set[str] = set()

    def found(self) -> Iterator[str]:
        for path, methods in self.before["paths"].items():
            for method, was in methods.items():
                place = f"{method.upper()} {path}"
                now = self.after["paths"].get(path, {}).get(method)
                if now is None:
                    yield f"{place}: removed"
                else:
                    yield from self._operation(place, was, now)
        later = self.after["components"]["schemas"]
        for name, was in self.before["components"]["schemas"].items():
            if name not in later and _is_class(was):
                yield f"schema {name}: removed"

    def _operation(self, place: str, was: Part, now: Part) -> Iterator[str]:
        if was["operationId"] != now["operationId"]:
            yield f"{place}: operationId is another"
        yield from self._parameters(place, was, now)
        bodies = [_content(one.get("requestBody", {})) for one in (was, now)]
        yield from self._contents(f"{place} body", *bodies, self._request)
        if not was.get("requestBody") and now.get("requestBody", {}).get("required"):
            yield f"{place} body: now required"
        for status, response in was["responses"].items():
            if status not in now["responses"]:
                yield f"{place} {status}: removed"
                continue
            old = _resolved(response, self.before)
            new = _resolved(now["responses"][status], self.after)
            for header in old.get("headers", {}).keys() - new.get("headers", {}).keys():
                yield f"{place} {status}: header {header} removed"
            yield from self._contents(
                f"{place} {status}", _content(old), _content(new), self._answer
            )

    def _parameters(self, place: str, was: Part, now: Part) -> Iterator[str]:
        old = {p["name"]: p for p in (_resolved(p, self.before) for p in was.get("parameters", ()))}
        new = {p["name"]: p for p in (_resolved(p, self.after) for p in now.get("parameters", ()))}
        for name, parameter in old.items():
            if name not in new:
                yield f"{place} {name}: removed"
                continue
            if new[name].get("required") and not parameter.get("required"):
                yield f"{place} {name}: now required"
            for keyword in ("in", "style", "explode"):
                if parameter.get(keyword) != new[name].get(keyword):
                    yield f"{place} {name}: {keyword} is another"
            yield from self._request(f"{place} {name}", parameter["schema"], new[name]["schema"])
        for name in new.keys() - old.keys():
            if new[name].get("required"):
                yield f"{place} {name}: new and required"

    def _contents(
        self, place: str, old: Part, new: Part, compare: Callable[..., Iterator[str]]
    ) -> Iterator[str]:
        for media, content in old.items():
            if media not in new:
                yield f"{place}: no {media} any more"
            elif "schema" in content:
                yield from compare(place, content["schema"], new[media].get("schema", {}))

    def _again(self, kind: str, was: Part, now: Part) -> bool:
        """Whether two named schemas are being, or have been, compared already."""
        key = f"{kind} {was.get('$ref')} {now.get('$ref')}"
        if "$ref" not in was or "$ref" not in now:
            return False
        again = key in self.seen
        self.seen.add(key)
        return again

    def _request(self, place: str, was: Part, now: Part) -> Iterator[str]:
        """Yield why what was right by the one schema is wrong by the other."""
        if self._again("request", was, now):
            return
        old, new = _whole(was, self.before), _whole(now, self.after)
        if _forms(old) or _forms(new):
            yield from self._forms_of_request(place, old, new)
            return
        yield from _types(place, _kinds(old), _kinds(new))
        yield from _unit(place, old, new)
        if words := _words(new):
            for word in _words(old) or ["any text"]:
                if word not in words:
                    yield f"{place}: {word} not allowed any more"
        for keyword, stricter in [(k, operator.gt) for k in _LEAST] + [
            (k, operator.lt) for k in _MOST
        ]:
            if keyword in new and (keyword not in old or stricter(new[keyword], old[keyword])):
                yield f"{place}: {keyword} tightened"
        for keyword in ("pattern", "multipleOf", "format"):
            if keyword in new and new[keyword] != old.get(keyword):
                yield f"{place}: {keyword} is new or another"
        if (
            new.get("additionalProperties") is False
            and old.get("additionalProperties") is not False
        ):
            yield f"{place}: no other fields any more"
        for name in sorted(set(new.get("required", ())) - set(old.get("required", ()))):
            yield f"{place}/{name}: now required"
        for name, field in old.get("properties", {}).items():
            if name not in new.get("properties", {}):
                yield f"{place}/{name}: removed"
            else:
                yield from self._request(f"{place}/{name}", field, new["properties"][name])
        if "items" in new:
            yield from self._request(f"{place}/0", old.get("items", {}), new["items"])
        for rule in new.get("rules", ()):
            if not any(_allows(rule, known) for known in old.get("rules", ())):
                yield f"{place}: new rule {json.dumps(rule)}"

    def _forms_of_request(self, place: str, old: Part, new: Part) -> Iterator[str]:
        mapped = _mapped(old), _mapped(new)
        if all(mapped):
            yield from self._mapping(place, *mapped, self._request)
            return
        for form in _forms(old) or [old]:
            if not any(self._fits("request", form, other) for other in _forms(new) or [new]):
                yield f"{place}: a form is not taken any more"

    def _answer(self, place: str, was: Part, now: Part) -> Iterator[str]:
        """Yield why who reads the one schema cannot read the other."""
        if self._again("answer", was, now):
            return
        old, new = _whole(was, self.before), _whole(now, self.after)
        if _forms(old) or _forms(new):
            mapped = _mapped(old), _mapped(new)
            if all(mapped):
                yield from self._mapping(place, *mapped, self._answer)
                return
            for form in _forms(new) or [new]:
                if not any(self._fits("answer", other, form) for other in _forms(old) or [old]):
                    yield f"{place}: a form of the answer is new"
            return
        yield from _types(place, _kinds(new), _kinds(old))
        yield from _unit(place, old, new)
        if "const" in old and old["const"] != new.get("const"):
            yield f"{place}: another constant"
        for name, field in old.get("properties", {}).items():
            if name not in new.get("properties", {}):
                yield f"{place}/{name}: removed"
                continue
            yield from self._answer(f"{place}/{name}", field, new["properties"][name])
        for name in sorted(set(old.get("required", ())) - set(new.get("required", ()))):
            yield f"{place}/{name}: may now be left out"
        for keyword in ("items", "additionalProperties"):
            if isinstance(old.get(keyword), dict):
                yield from self._answer(f"{place}/{keyword}", old[keyword], new.get(keyword) or {})

    def _mapping(
        self, place: str, old: Part, new: Part, compare: Callable[..., Iterator[str]]
    ) -> Iterator[str]:
        for word, reference in old.items():
            if word not in new:
                yield f"{place}: no {word} any more"
            else:
                yield from compare(f"{place}/{word}", {"$ref": reference}, {"$ref": new[word]})

    def _fits(self, kind: str, was: Part, now: Part) -> bool:
        """Whether one form can stand for another; compared on its own, as one of several tries."""
        alone = _Comparison(self.before, self.after)
        return not list((alone._request if kind == "request" else alone._answer)("", was, now))


def _content(part: Part) -> Part:
    found: Part = part.get("content", {})
    return found


def _resolved(part: Part, document: Part) -> Part:
    while "$ref" in part:
        found: Any = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        part = found
    return part


def _whole(schema: Part, document: Part) -> Part:
    """Return a schema with what it refers to and is made of; rules about fields stand under ``rules``."""
    beside = {name: part for name, part in schema.items() if name not in ("$ref", "allOf")}
    parts = [_resolved({"$ref": schema["$ref"]}, document)] if "$ref" in schema else []
    merged: Part = {"properties": {}, "required": [], "rules": []}
    for part in [*parts, *schema.get("allOf", ()), beside]:
        if part is not beside and _is_rule(part):
            merged["rules"] += part.get("allOf", [part])
            continue
        whole = part if part is beside else _whole(part, document)
        merged |= {k: v for k, v in whole.items() if k not in ("properties", "required", "rules")}
        merged["properties"] |= whole.get("properties", {})
        merged["required"] = [*merged["required"], *whole.get("required", ())]
        merged["rules"] = [*merged["rules"], *whole.get("rules", ())]
    return {name: part for name, part in merged.items() if part not in ([], {})}


def _is_class(schema: Part) -> bool:
    """Whether made clients have a class for a schema. A field that several schemas share is none."""
    return (
        schema.get("type") == "object"
        or bool({"enum", "discriminator"} & schema.keys())
        or len(schema.get("allOf", ())) > 1
    )


def _is_rule(part: Part) -> bool:
    """Whether a part says only which fields belong together."""
    choices = [*part.get("oneOf", ()), *part.get("anyOf", ()), *part.get("allOf", ())]
    return not _SHAPE & part.keys() and not any({"$ref", "type"} & one.keys() for one in choices)


def _forms(schema: Part) -> list[Part]:
    found: list[Part] = schema.get("anyOf") or schema.get("oneOf") or []
    return found


def _mapped(schema: Part) -> Part:
    found: Part = schema.get("discriminator", {}).get("mapping", {})
    return found


def _kinds(schema: Part) -> set[str]:
    kinds = schema.get("type", [])
    return {kinds} if isinstance(kinds, str) else set(kinds)


def _types(place: str, narrow: set[str], wide: set[str]) -> Iterator[str]:
    """Yield what the wide types lack of the narrow ones; no types at all are every type."""
    if not wide:
        return
    lacking = narrow - wide - ({"integer"} if "number" in wide else set())
    if lacking or not narrow:
        yield f"{place}: another type"


def _unit(place: str, old: Part, new: Part) -> Iterator[str]:
    if old.get("x-unit") != new.get("x-unit"):
        yield f"{place}: another unit"


def _words(schema: Part) -> list[Any]:
    return [schema["const"]] if "const" in schema else schema.get("enum", [])


def _allows(rule: Part, known: Part) -> bool:
    """Whether a rule forbids nothing that a known one allows: it is the same, or has more choices."""
    if rule == known:
        return True
    return any(
        keyword in known and keyword in rule and all(one in rule[keyword] for one in known[keyword])
        for keyword in ("oneOf", "anyOf")
    )
