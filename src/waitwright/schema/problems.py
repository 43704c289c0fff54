"""From what pydantic found to problems that people can act on.  The only place that does so.

:class:`Faults` collects problems over one or many files.  Its ``take`` methods check one entry of a
file at a time, so that a bad entry hides neither the errors nor the content of its neighbours.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import UnionType
from typing import Annotated, Any, ClassVar, Generic, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from waitwright.errors import FileProblems, Problem
from waitwright.nearest import did_you_mean
from waitwright.schema.scalars import FACT_PATTERN, ID_PATTERN, ROLE_PATTERN, SLUG_PATTERN, shown
from waitwright.schema.spans import KeyPath
from waitwright.schema.tomlfile import TomlFile

MAX_PROBLEMS = 50
MAX_ENTRIES = 5000


class Entry(BaseModel):
    """Base of all models of files: no unknown keys, no conversions between types.

    ``STAND_INS`` fills required keys of a head that is broken, so that the rest can still be checked.
    """

    # defer_build: a model that only stands inside another one needs no validator of its own.
    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, hide_input_in_errors=True, defer_build=True
    )

    STAND_INS: ClassVar[Mapping[str, Any]] = {}


E = TypeVar("E", bound=Entry)


@dataclass(frozen=True, slots=True)
class Placed(Generic[E]):
    """A checked entry and where it stands."""

    file: TomlFile
    path: KeyPath
    entry: E

    @property
    def key(self) -> str:
        """Its own key, for entries of a table of tables."""
        return str(self.path[-1])


@dataclass(slots=True)
class Faults:
    """Problems found so far, over all files."""

    problems: list[Problem] = field(default_factory=list)

    def add(self, file: TomlFile, path: KeyPath, message: str, hint: str = "") -> None:
        """Note one problem of *file* at *path*."""
        self.problems.append(file.problem(path, message, hint))

    def raise_if_any(self) -> None:
        """End with everything found so far, each problem once, in order of file and line.

        Raises:
            FileProblems: if there is any problem.
        """
        if not self.problems:
            return
        unique = sorted(dict.fromkeys(self.problems), key=lambda found: (found.file, found.line or 0))
        kept = unique[:MAX_PROBLEMS]
        if len(unique) > len(kept):
            kept.append(Problem(kept[-1].file, "", f"and {len(unique) - len(kept)} more problems"))
        raise FileProblems(tuple(kept))

    def take(self, model: type[E], file: TomlFile, path: KeyPath, raw: object) -> E | None:
        """*raw*, which stands at *path*, as a *model*; None, with problems noted, where it is not one."""
        try:
            return model.model_validate(raw)
        except ValidationError as error:
            self.problems.extend(_problems_of(error, model, file, path))
            return None

    def take_list(
        self, model: type[E], file: TomlFile, key: str, spare: Iterable[str] = ()
    ) -> Iterator[Placed[E]]:
        """The sound entries of the list of tables ``[[key]]``; none where the key is absent.

        Args:
            spare: Keys of an entry that can do without: where only these hold faults, which are noted,
                the entry is given without the faulty pieces, so that the rest of it is checked as well.
        """
        raw = file.data.get(key, [])
        if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
            self.add(file, (key,), f"expected tables headed [[{key}]], found {shown(raw)}")
            return
        if len(raw) > MAX_ENTRIES:
            self.add(file, (key,), f"more than {MAX_ENTRIES} entries")
            return
        for position, item in enumerate(raw):
            entry = self.take(model, file, (key, position), item)
            if entry is None and spare:
                entry = _without_faults(model, item, frozenset(spare))
            if entry is not None:
                yield Placed(file, (key, position), entry)

    def take_head(
        self, model: type[E], file: TomlFile, sections: Iterable[str] = ()
    ) -> tuple[E | None, frozenset[str]]:
        """The keys at the top of *file*, without *sections* that are taken separately.

        Returns:
            The head, and the names of its broken keys, which hold stand-ins; no head where one of
            the broken keys has no stand-in.
        """
        sections = frozenset(sections)
        raw = {key: value for key, value in file.data.items() if key not in sections}
        try:
            return model.model_validate(raw), frozenset()
        except ValidationError as error:
            self.problems.extend(_problems_of(error, model, file, (), sections))
            broken = frozenset(str(found["loc"][0]) for found in error.errors(include_url=False))
        sound = {key: value for key, value in raw.items() if key not in broken}
        try:
            return model.model_validate({**model.STAND_INS, **sound}), broken
        except ValidationError:
            return None, broken


def _without_faults(model: type[E], raw: Mapping[str, Any], spare: frozenset[str]) -> E | None:
    """*raw* without the faulty pieces under the *spare* keys; None where others are faulty too.

    A piece is an item of a table of tables, else all that stands under the key.
    """
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        faulty = [found["loc"] for found in error.errors(include_url=False)]
    sound = dict(raw)
    for key in {str(path[0]) for path in faulty} & spare:
        inner = raw.get(key)
        names = {path[1] for path in faulty if path[0] == key and len(path) > 1}
        if isinstance(inner, dict) and all(isinstance(inner.get(name), dict) for name in names):
            sound[key] = {name: item for name, item in inner.items() if name not in names}
        else:
            sound.pop(key, None)  # a key that is missing is faulty as well
    try:
        return model.model_validate(sound)
    except ValidationError:
        return None


# ------------------------------------------------------------------------------- pydantic's words


def _problems_of(
    error: ValidationError,
    model: type[BaseModel],
    file: TomlFile,
    path: KeyPath,
    also_known: Iterable[str] = (),
) -> Iterator[Problem]:
    for found in error.errors(include_url=False, include_context=True):
        inner = tuple(step for step in found["loc"] if step != "[key]")
        where = (*path, *inner)
        kind = found["type"]
        if kind == "extra_forbidden":
            known = [*_keys_at(model, inner[:-1]), *(also_known if len(inner) == 1 else ())]
            yield file.problem(where, f"unknown key {shown(inner[-1])}", did_you_mean(str(inner[-1]), known))
        elif kind == "missing":
            annotation = _annotation_at(model, inner)
            yield file.problem(
                where[:-1], f"missing key {shown(inner[-1])}", f"add {inner[-1]} = {_example(annotation)}"
            )
        else:
            yield file.problem(where, _phrase(found))


def _phrase(found: ErrorDetails) -> str:
    """One of pydantic's findings in the words of a file's author."""
    context = found.get("ctx", {})
    kind = found["type"]
    if kind == "value_error":
        return str(context["error"])
    seen = shown(found["input"])
    if kind == "literal_error":
        return f"expected {str(context['expected']).replace(chr(39), chr(34))}, found {seen}"
    if kind == "string_pattern_mismatch":
        return f"expected {_PATTERNS.get(str(context['pattern']), 'a plain name')}, found {seen}"
    if kind in _BOUNDS:
        return _BOUNDS[kind].format(**context) + f", found {seen}"
    if kind in {"string_too_short", "string_too_long", "too_short", "too_long"}:
        return _LENGTHS[kind].format(**context)
    return f"expected {_EXPECTED.get(kind, 'another kind of value')}, found {seen}"


_PATTERNS = {
    ID_PATTERN: "a name of lower-case letters, digits and - _ . +",
    SLUG_PATTERN: "a name of lower-case letters, digits and hyphens",
    ROLE_PATTERN: "the name of a role",
    FACT_PATTERN: "a name of lower-case letters, digits and underscores, with dots between its parts",
}
_EXPECTED = {
    "string_type": "a text",
    "bool_type": "true or false",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}
_BOUNDS = {
    "greater_than": "expected more than {gt}",
    "greater_than_equal": "expected at least {ge}",
    "less_than": "expected less than {lt}",
    "less_than_equal": "expected at most {le}",
}
_LENGTHS = {
    "string_too_short": "expected a text, found an empty one",
    "string_too_long": "expected a text of at most {max_length} characters",
    "too_short": "expected at least {min_length} of them, found {actual_length}",
    "too_long": "expected at most {max_length} of them, found more",
}


def _annotation_at(model: type[BaseModel], path: KeyPath) -> Any:
    """What a model tree declares at *path*; None where it declares nothing."""
    annotation: Any = model
    for step in path:
        annotation = _bare(annotation)
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            fields = {info.alias or name: info.annotation for name, info in annotation.model_fields.items()}
            annotation = fields.get(str(step))
        else:
            inner = get_args(annotation)
            annotation = inner[-1] if inner else None
    return annotation


def _keys_at(model: type[BaseModel], path: KeyPath) -> tuple[str, ...]:
    annotation = _bare(_annotation_at(model, path))
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return tuple(info.alias or name for name, info in annotation.model_fields.items())
    return ()


def _bare(annotation: Any) -> Any:
    """*annotation* without ``Annotated`` and ``| None``."""
    while True:
        if get_origin(annotation) is Annotated:
            annotation = get_args(annotation)[0]
        elif get_origin(annotation) in (Union, UnionType):
            annotation = next(part for part in get_args(annotation) if part is not type(None))
        else:
            return annotation


def _example(annotation: Any) -> str:
    """How a missing key could look in the file."""
    bare = _bare(annotation)
    if get_origin(bare) is Literal:
        return " or ".join(f'"{word}"' if isinstance(word, str) else str(word) for word in get_args(bare))
    if get_origin(bare) is list:
        return "[...]"
    if get_origin(bare) is dict or (isinstance(bare, type) and issubclass(bare, BaseModel)):
        return "{...}"
    return {bool: "true or false", int: "a number", float: "a number"}.get(bare, '"..."')
