"""One table of a TOML file whose every value is checked as it is taken, and refused with its file and line.

The standard library's reader keeps no line numbers, so the line of a key is looked up in the text when it is needed.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any, NoReturn, TypeVar

from drivers.profile import full_uuid, plain_text

T = TypeVar("T")
_KIND_WORDS: dict[type, str] = {
    str: "text in quotes",
    int: "whole number",
    float: "number",
    bool: "true or false",
    list: "list in [ ]",
    dict: "table",
}


class ProfileError(Exception):
    """A profile that cannot be used. Its text names the file, the line and what is wrong there.

    Attributes:
        file: name of the file.
        line: counted from 1.
    """

    def __init__(self, file: str, line: int, what: str) -> None:
        self.file, self.line = file, line
        super().__init__(f"{file}, line {line}: {what}")


class TomlFile:
    """The text of a TOML file and its tables.

    Raises:
        ProfileError: when the text is not TOML.
    """

    def __init__(self, text: str, file: str) -> None:
        self.text, self.file = text, file
        try:
            self.tables = tomllib.loads(text)
        except (tomllib.TOMLDecodeError, RecursionError) as error:
            found = re.search(r"line (\d+)", str(error))
            line = int(found[1]) if found else len(text.splitlines()) or 1
            what = re.sub(r" \(at .*\)$", "", str(error))
            raise ProfileError(file, line, f"not valid TOML: {what}") from error

    def line_of(self, table: str, number: int, key: str | None) -> int:
        """The line of a key in the table of this name (the `number`-th of them), else of the table itself."""
        here, seen, found = "", 0, 1
        for line, text in enumerate(self.text.splitlines(), start=1):
            header = re.match(r"\s*\[+\s*\"?([^\]\"]+?)\"?\s*\]", text)
            if header:
                seen = seen + 1 if header[1] == here else 0
                here = header[1]
                if (here, seen) == (table, number):
                    found = line
                if not table and here == key:
                    return line
            inside = (here, seen) == (table, number) or (not table and not here)
            named = re.match(r"\s*[\"']?([^=\"'#]+?)[\"']?\s*=", text)
            if inside and key is not None and named and named[1] == key:
                return line
            if not here and named and named[1] == table:
                found = line  # a table written in one line
        return found


class Table:
    """One table: typed values out, everything else refused.

    Args:
        file: the file it is in.
        values: what is in it; anything but a table is refused.
        known: the keys it may have.
        name: its name in the file; empty for the top of the file.
        number: which one, where several have that name.
    """

    def __init__(self, file: TomlFile, values: Any, known: set[str], name: str = "", number: int = 0) -> None:
        self._file, self._name, self._number = file, name, number
        if not isinstance(values, dict):
            self.refuse(None, f"'{name}' must be a table")
        self._values: dict[str, Any] = values
        for key in values:
            if key not in known:
                self.refuse(key, f"unknown key '{plain_text(key)}'; known here: {', '.join(sorted(known))}")

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def refuse(self, key: str | None, what: str) -> NoReturn:
        """Say what is wrong with a key, or with the whole table."""
        raise ProfileError(self._file.file, self._file.line_of(self._name, self._number, key), what)

    def get(self, key: str, kind: type[T], default: T | None = None) -> T:
        """A value of this kind; refused when missing without a default."""
        if key not in self._values:
            if default is None:
                self.refuse(None, f"'{key}' is missing")
            return default
        value = self._values[key]
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            value = float(value)
        if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
            self.refuse(key, f"'{key}' must be a {_KIND_WORDS[kind]}")
        return value

    def text(self, key: str, default: str | None = None) -> str:
        """Text fit to be shown."""
        return plain_text(self.get(key, str, default), 200)

    def positive(self, key: str, default: float | None = None) -> float:
        """A number above zero."""
        value = self.get(key, float, default)
        if not 0.0 < value < 1e12:
            self.refuse(key, f"'{key}' must be greater than zero")
        return value

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number between two bounds."""
        value = self.get(key, int, default)
        if not low <= value <= high:
            self.refuse(key, f"'{key}' must be from {low} to {high}")
        return value

    def choice(self, key: str, choices: tuple[str, ...], default: str | None = None) -> str:
        """One of a few words."""
        value = self.get(key, str, default)
        if value not in choices:
            self.refuse(key, f"'{key}' must be one of {', '.join(choices)}")
        return value

    def uuid(self, key: str) -> str:
        """A UUID, as the lower-case 128-bit string."""
        uuid = full_uuid(self.get(key, str))
        if uuid is None:
            self.refuse(key, f"'{key}' is not a UUID (128-bit with dashes, or a 4-digit assigned number)")
        return uuid

    def data(self, key: str) -> bytes:
        """Bytes written as hexadecimal digits."""
        try:
            return bytes.fromhex(self.get(key, str))
        except ValueError:
            self.refuse(key, f"'{key}' must be bytes in hexadecimal, such as \"01 0a ff\"")

    def table(self, key: str, known: set[str]) -> Table:
        """A table inside the file's top table."""
        return Table(self._file, self.get(key, dict), known, key)

    def several(self, key: str, known: set[str]) -> list[Table]:
        """The tables written as [[key]]; empty when there are none."""
        values = self.get(key, list, [])
        return [Table(self._file, value, known, key, number) for number, value in enumerate(values)]
