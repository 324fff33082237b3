"""Wording of what is wrong in an edition's text files: one line each, with file, line, value and remedy."""

from pathlib import Path

LONGEST_QUOTE = 60
"""Text of a file is cut to this many characters in messages."""


def quoted(value: object) -> str:
    r"""Return a value of a file in quotes, cut short and without characters that could steer a terminal.

    >>> quoted("sky\x1b[31m")
    "'sky?[31m'"
    """
    try:
        text = str(value)
    except ValueError:  # a whole number of thousands of digits
        text = "a number too long to show"
    short = text if len(text) <= LONGEST_QUOTE else text[: LONGEST_QUOTE - 1] + "…"
    short = short.replace("\n", "?")
    return f"'{without_controls(short)}'"


def without_controls(text: str) -> str:
    r"""Return a text in which nothing steers a terminal; line ends stay.

    >>> without_controls("sky\x1b[31m\nsea")
    'sky?[31m\nsea'
    """
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def place(name: str, line: int | None) -> str:
    """Return where in a file something stands.

    >>> place("pulls.csv", 3)
    'pulls.csv line 3'
    """
    return name if line is None else f"{name} line {line}"


def read_text(path: Path, problems: list[str]) -> str:
    """Return the text of a UTF-8 file without its byte order mark; what cannot be read goes to `problems`."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        problems.append(f"{path.name} cannot be read ({error.strerror}). Make it readable, then run again.")
        return ""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        problems.append(f"{path.name} is UTF-16 text, allowed is UTF-8. Save it again as UTF-8.")
        return ""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        bad = raw[error.start]
        problems.append(
            f"{place(path.name, line)}: byte 0x{bad:02x} is not UTF-8 text. Save the file again as UTF-8."
        )
        return ""
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        problems.append(
            f"{place(path.name, line)}: there is a NUL character, allowed is text. Save it again as UTF-8."
        )
        return ""
    return text
