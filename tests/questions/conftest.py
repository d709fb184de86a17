"""Ask questions, and draw them from their own declarations, to reach every bound."""

from functools import cache

import msgspec
import pytest
from hypothesis import strategies as st
from msgspec import inspect

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.layout import LayoutText
from percell.questions.vocabulary.sharing import SPREAD, ResistanceSpread


def bare(kind):
    """Return a type without its annotations."""
    return bare(kind.type) if isinstance(kind, inspect.Metadata) else kind


def drawn_value(kind):
    """Return a strategy of JSON values of a type; numbers keep to their bounds and favour the ends."""
    kind = bare(kind)
    match kind:
        case inspect.FloatType(multiple_of=1):
            return st.integers(int(kind.ge), int(kind.le))
        case inspect.FloatType() | inspect.IntType():
            inner = st.floats if isinstance(kind, inspect.FloatType) else st.integers
            return st.sampled_from([kind.ge, kind.le]) | inner(kind.ge, kind.le)
        case inspect.BoolType():
            return st.booleans()
        case inspect.EnumType():
            return st.sampled_from([word.value for word in kind.cls])
        case inspect.LiteralType():
            return st.sampled_from(kind.values)
        case inspect.NoneType():
            return st.none()
        case inspect.StrType(pattern=str()):
            longest = kind.max_length or 20
            texts = st.from_regex(kind.pattern, fullmatch=True)
            return texts.filter(lambda text: len(text) <= longest)
        case inspect.StrType():
            return st.text(min_size=kind.min_length or 0, max_size=min(kind.max_length or 20, 20))
        case inspect.ListType() | inspect.VarTupleType():
            least = kind.min_length or 0
            most = min(kind.max_length or least + 3, least + 3)
            return st.lists(drawn_value(kind.item_type), min_size=least, max_size=most)
        case inspect.UnionType():
            return st.one_of([drawn_value(part) for part in kind.types])
        case inspect.StructType(cls=cls) if cls is ResistanceSpread:
            # one of the stored spreads: others need slow draws
            return st.just({"spread": SPREAD})
        case inspect.StructType():
            return drawn_fields(kind)
    raise TypeError(f"no way to draw {kind!r}: teach this module")


def drawn_fields(kind, values=None, **fixed):
    """Return a strategy of JSON objects of a struct; fields with a default may be left out."""
    tag = {kind.tag_field: st.just(kind.tag)} if kind.tag_field else {}
    chosen = dict(values or drawn_values(kind))
    chosen |= {name: st.just(value) for name, value in fixed.items()}
    optional = {f.encode_name for f in kind.fields if not f.required} - fixed.keys()
    return st.fixed_dictionaries(
        tag | {name: way for name, way in chosen.items() if name not in optional},
        optional={name: way for name, way in chosen.items() if name in optional},
    )


def drawn_values(kind):
    return {field.encode_name: drawn_value(field.type) for field in kind.fields}


def ends(kind):
    """Return the extreme JSON values of a type: both bounds of a number, every word of a choice."""
    kind = bare(kind)
    match kind:
        case inspect.FloatType() | inspect.IntType():
            return [kind.ge, kind.le]
        case inspect.BoolType():
            return [False, True]
        case inspect.EnumType():
            return [word.value for word in kind.cls]
        case inspect.LiteralType():
            return list(kind.values)
        case inspect.StrType(pattern=pattern) if (
            pattern == bare(inspect.type_info(LayoutText)).pattern
        ):
            return ["1S1P", "20S1P", "1S20P", "20S20P"]
        case inspect.StrType():
            return ["a" * (kind.min_length or 1)]
        case inspect.NoneType():
            return [None]
        case inspect.ListType() | inspect.VarTupleType():
            least = max(kind.min_length or 0, 1)
            most = min(kind.max_length or least, 20)
            return [[end] * size for end in ends(kind.item_type) for size in {least, most}]
        case inspect.UnionType():
            return [end for part in kind.types for end in ends(part)]
        case inspect.StructType():
            tag = {kind.tag_field: kind.tag} if kind.tag_field else {}
            sides = [
                {f.encode_name: ends(f.type)[side] for f in kind.fields} | tag for side in (0, -1)
            ]
            return sides + [
                side | {field.encode_name: end}
                for side in sides
                for field in kind.fields
                for end in ends(field.type)
            ]
    raise TypeError(f"no way to find the ends of {kind!r}: teach this module")


@pytest.fixture(scope="session")
def ask():
    """Return the function that answers a question given as a JSON body."""

    def answer(question_id, **body):
        question = QUESTIONS[question_id]
        return question.answer(msgspec.convert(body, question.asked))

    return answer


@pytest.fixture(scope="session")
def drawn():
    """Return the function that draws bodies of a question over all its bounds, some fields fixed."""

    @cache
    def info(question_id):
        kind = inspect.type_info(QUESTIONS[question_id].asked)
        return kind, drawn_values(kind)

    return lambda question_id, **fixed: drawn_fields(*info(question_id), **fixed)


@pytest.fixture(scope="session")
def cornered():
    """Return the function that lists bodies of a question at its corners.

    They are all low, all high and the example, and each of these with each field moved to each of its
    ends, or left out if it has a default.
    """

    def bodies(question_id):
        question = QUESTIONS[question_id]
        fields = inspect.type_info(question.asked).fields
        sides = [
            *({f.encode_name: ends(f.type)[side] for f in fields} for side in (0, -1)),
            question.example,
        ]
        for side in sides:
            yield side
            for field in fields:
                yield from ({**side, field.encode_name: end} for end in ends(field.type))
                if not field.required:
                    yield {name: v for name, v in side.items() if name != field.encode_name}

    return bodies
