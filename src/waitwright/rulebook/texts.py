"""Rule-language text of files as expressions, with problems that name file, key and line."""

from __future__ import annotations

from waitwright.errors import ExpressionError
from waitwright.expr import Expression, parse
from waitwright.rulebook.domain import Basis, Provenance
from waitwright.schema.problems import Faults
from waitwright.schema.spans import KeyPath
from waitwright.schema.tomlfile import TomlFile


class TextReader:
    """Parses the expressions of many files, each distinct text once."""

    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self._parsed: dict[str, Expression] = {}
        self._provenances: dict[tuple[str, str], Provenance] = {}

    def expression(self, file: TomlFile, path: KeyPath, text: str) -> Expression:
        """*text* as an expression; where it is none, a stand-in, and the problem is noted."""
        known = self._parsed.get(text)
        if known is not None:
            return known
        try:
            parsed = self._parsed[text] = parse(text)
        except ExpressionError as error:
            self.faults.add(file, path, str(error))
            return parse("0")
        return parsed

    def optional(self, file: TomlFile, path: KeyPath, text: str | None) -> Expression | None:
        """Like :meth:`expression`, for a key that may be absent."""
        return None if text is None else self.expression(file, path, text)

    def provenance(self, source: str, basis: Basis) -> Provenance:
        """One shared object for equal provenances."""
        key = (source, basis)
        if key not in self._provenances:
            self._provenances[key] = Provenance(source, basis)
        return self._provenances[key]
