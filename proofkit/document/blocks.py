"""What a written page consists of. All text is plain: whatever a file says is shown as it is and never as markup."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading below the title."""

    text: str
    level: int = 1
    """1 or 2."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text."""

    text: str


@dataclass(frozen=True, slots=True)
class Items:
    """A list of points."""

    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of short texts."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    """Columns that hold numbers and are set flush right."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure that lies beside the page as SVG, PDF and PNG."""

    stem: Path
    """Path of the files without their ending."""
    caption: str


Block = Heading | Paragraph | Items | Table | Picture


@dataclass(frozen=True, slots=True)
class Document:
    """A page."""

    title: str
    kind: str
    """What the page is, above the title."""
    blocks: tuple[Block, ...]
