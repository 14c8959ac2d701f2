"""Saves the questions of the conversion page in a text file, one question on each line, the newest last."""

from pathlib import Path

from core.conversion.expression import LONGEST_SUM
from core.values.errors import FileError
from core.values.files import failure, make_folder, name_of, read_text, write_text
from core.values.plain_text import clean

FILE_NAME = "conversions.txt"
MOST_KEPT = 200


class QuestionHistory:
    """The user's earlier questions. If the file cannot be used, they are kept only until the program ends."""

    def __init__(self, path: Path) -> None:
        """Read the earlier questions from the file `path`, which need not exist yet. A damaged file is not changed."""
        self._path = path
        self.complaint = ""
        """The reason why questions are not kept between starts; "" if they are kept."""
        self.questions: tuple[str, ...] = self._read()

    def add(self, question: str) -> None:
        """Save a question as the newest question. An earlier entry with the same question is removed."""
        kept = clean(question, LONGEST_SUM).strip()
        if not kept:
            return
        # Another program may have added questions to the file since.
        before = self.questions if self.complaint else self._read()
        self.questions = (*(each for each in before if each != kept), kept)[-MOST_KEPT:]
        if not self.complaint:
            self._write()

    def _read(self) -> tuple[str, ...]:
        try:
            if self._path.is_dir():
                raise FileError(
                    [
                        f"{name_of(self._path)}: A folder has this name. Rename the folder, so that your "
                        "questions can be saved in a file."
                    ]
                )
            if not self._path.exists():
                return ()
            text = read_text(self._path)
        except FileError as error:
            self.complaint = error.message
            return ()
        except OSError as error:
            self.complaint = failure(self._path, "The file cannot be read", error).message
            return ()
        lines = (clean(line, LONGEST_SUM).strip() for line in text.splitlines() if len(line) <= LONGEST_SUM)
        return tuple(line for line in lines if line)[-MOST_KEPT:]

    def _write(self) -> None:
        try:
            make_folder(self._path.parent)
            write_text(self._path, "".join(f"{question}\n" for question in self.questions))
        except FileError as error:
            self.complaint = error.message


class Recall:
    """Steps back through the earlier questions, and forward again to the text that the user was typing."""

    def __init__(self, history: QuestionHistory) -> None:
        self._history = history
        self._back = 0
        self._typed = ""

    @property
    def is_walking(self) -> bool:
        """True while the field shows an earlier question in place of the text that the user was typing."""
        return self._back > 0

    def typed(self, text: str) -> None:
        """Remember the text in the field as typed, unless it is the earlier question that is shown.

        An earlier question that the user has edited counts as typed text.
        """
        if not (self._back and text == self._shown()):
            self._back, self._typed = 0, text

    def step(self, steps: int) -> str | None:
        """Return the question `steps` further back, or further forward if `steps` is negative.

        After the newest question comes the text that the user was typing. Return None if there is nothing so far back
        or so far forward.
        """
        back = self._back + steps
        if self._back == 0 and back == 1 and self._history.questions[-1:] == (self._typed.strip(),):
            # The field already shows this question.
            back += 1
        if not 0 <= back <= len(self._history.questions):
            return None
        self._back = back
        return self._shown()

    def _shown(self) -> str:
        return self._history.questions[-self._back] if self._back else self._typed
