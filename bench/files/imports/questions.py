"""What a log leaves open, as a code with values: each face asks for it in its own words."""

from typing import Any

from bench.errors import BadCall, BadFile
from bench.wording.face import TERMINAL, Face
from bench.wording.imports import question_words


class ImportQuestion(BadCall):
    """Something must be said before the log can be used; str() asks as the command line does."""

    def __init__(self, code: str, **values: Any) -> None:
        super().__init__(question_words(code, values, TERMINAL))
        self.code, self.values = code, values


class ImportRefusal(BadFile):
    """A column cannot be what it was taken for."""

    def __init__(self, code: str, **values: Any) -> None:
        super().__init__(question_words(code, values, TERMINAL))
        self.code, self.values = code, values


class ImportNote(str):
    """A note on what was assumed: text for the command line and the file, a code for the window."""

    code: str
    values: dict[str, Any]

    def __new__(cls, code: str, **values: Any) -> "ImportNote":
        """Return the note with its words for the terminal."""
        made = super().__new__(cls, question_words(code, values, TERMINAL))
        made.code, made.values = code, values
        return made

    def __reduce_ex__(self, _protocol: Any) -> tuple[Any, ...]:
        """Go as plain text where it is copied or sent: only its words matter there."""
        return str, (str(self),)


def asked_in(said: BaseException | str, face: Face) -> str:
    """Return a question, a refusal or a note in the words of a face."""
    if isinstance(said, (ImportQuestion, ImportRefusal, ImportNote)):
        return question_words(said.code, said.values, face)
    return str(said)
