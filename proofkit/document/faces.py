"""Typefaces of a PDF: which face sets which letter, and which letters none can set.

The face that comes with the program has the letters of all European languages. What it lacks is looked for in the
TrueType faces of the computer and taken into the file. Chinese, Japanese and Korean letters that no such face has are
set in the standard faces of PDF for these scripts, which are not in the file: the program that shows it brings them.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from xml.sax.saxutils import escape

import matplotlib as mpl
from fontTools.ttLib import TTFont as FaceFile
from fontTools.ttLib import TTLibError
from matplotlib.font_manager import findSystemFonts
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfbase.ttfonts import TTFError, TTFont

UPRIGHT, ITALIC = "DejaVuSerif", "DejaVuSerif-Italic"

ASIAN_FACES: tuple[tuple[str, str], ...] = (
    ("HeiseiMin-W3", "cp932"),
    ("HYSMyeongJo-Medium", "cp949"),
    ("STSong-Light", "gbk"),
    ("MSung-Light", "big5"),
)
"""Faces by the character collections of PDF (ISO 32000-1, 9.7.5.2: Japan1, Korea1, GB1, CNS1), and the code that has
the collection's first letters."""

NO_EMBEDDING = 0x0002
"""Bit of fsType in table OS/2 (OpenType): the maker of the face does not allow it to be taken into files."""

KANA, HANGUL = "HIRAGANA KATAKANA", "HANGUL"


@dataclass(frozen=True, slots=True)
class Faces:
    """Which face sets which letter of a page."""

    of_letter: dict[str, str]
    """Letters that another face than the usual one sets -> its name."""
    lacking: str
    """Letters that no face sets, in order of code point; they are drawn as an empty box."""

    def marked(self, text: str) -> str:
        """Return a text for a paragraph, with runs of other faces marked; nothing in it can become markup."""
        runs: list[tuple[str, str]] = []
        for letter in text:
            face = self.of_letter.get(letter, "")
            # A space between two foreign words goes with them, so that a run is not broken.
            if runs and (runs[-1][0] == face or (letter == " " and runs[-1][0])):
                runs[-1] = (runs[-1][0], runs[-1][1] + letter)
            else:
                runs.append((face, letter))
        return "".join(
            f'<font name="{face}">{escape(run)}</font>' if face else escape(run) for face, run in runs
        )

    def breaks_anywhere(self, text: str) -> bool:
        """Tell whether a text has letters that are written without spaces between words."""
        return any(letter in self.of_letter for letter in text)


@cache
def usual_face() -> frozenset[str]:
    """Register the face that comes with the drawing library and return its letters."""
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for name in (UPRIGHT, ITALIC):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    both = [set(pdfmetrics.getFont(name).face.charToGlyph) for name in (UPRIGHT, ITALIC)]
    return frozenset(map(chr, both[0] & both[1]))


def faces_for(texts: Iterable[str]) -> Faces:
    """Return the faces for a page.

    Parameters
    ----------
    texts : iterable of str
        All texts of the page.

    Notes
    -----
    Letters that are written from right to left, or join and stack as in Arabic or Devanagari, need more than a face:
    they count as lacking.
    """
    usual = usual_face()
    wanted = {letter for text in texts for letter in text if letter not in usual and _is_seen(letter)}
    simple = {letter for letter in wanted if _stands_alone(letter)}
    found: dict[str, str] = {}
    left = frozenset(simple)
    while left:
        face, letters = _system_face(left)
        if not face:
            break
        found |= dict.fromkeys(letters, face)
        left -= letters
    found |= _asian_faces(left)
    return Faces(found, "".join(sorted(wanted - found.keys())))


def _is_seen(letter: str) -> bool:
    return not letter.isspace() and unicodedata.category(letter) not in {"Cc", "Cf"}


def _stands_alone(letter: str) -> bool:
    return (
        unicodedata.bidirectional(letter) not in {"R", "AL", "AN"} and unicodedata.category(letter)[0] != "M"
    )


@cache
def _system_face(letters: frozenset[str]) -> tuple[str, frozenset[str]]:
    """Return the face of the computer that has most of some letters, registered, and those letters."""
    best: tuple[str, frozenset[str]] = ("", frozenset())
    for path in sorted(findSystemFonts(fontext="ttf")):
        has = letters & _letters_of(path)
        if len(has) > len(best[1]):
            best = (path, has)
    path, has = best
    if not has:
        return best
    name = f"{Path(path).stem}-{len(pdfmetrics.getRegisteredFontNames())}"
    try:
        pdfmetrics.registerFont(TTFont(name, path, subfontIndex=0))
    except (TTFError, OSError):
        return "", frozenset()
    return name, has


@cache
def _letters_of(path: str) -> frozenset[str]:
    """Return the letters of a face file; none where its outlines or its maker do not let it into a PDF."""
    try:
        with Path(path).open("rb") as file, FaceFile(file, fontNumber=0, lazy=True) as face:
            if "glyf" not in face or ("OS/2" in face and face["OS/2"].fsType & NO_EMBEDDING):
                return frozenset()
            return frozenset(map(chr, face.getBestCmap() or {}))
    except (TTLibError, OSError, AttributeError, AssertionError, ValueError):
        return frozenset()  # a broken face on the computer is none of ours


def _asian_faces(letters: frozenset[str]) -> dict[str, str]:
    """Return the standard Asian face of each letter that one has; kana speak for Japanese, hangul for Korean."""
    names = {letter: unicodedata.name(letter, "") for letter in letters}
    scripts = {name.split(" ")[0] for name in names.values()}
    order = list(ASIAN_FACES)
    if HANGUL in scripts:
        order.sort(key=lambda face: face[1] != "cp949")
    elif not scripts & set(KANA.split()):
        order.sort(key=lambda face: face[1] not in {"gbk", "big5"})
    found: dict[str, str] = {}
    for letter in letters:
        face = next((face for face, code in order if _has(code, letter)), None)
        if face is not None:
            if face not in pdfmetrics.getRegisteredFontNames():
                pdfmetrics.registerFont(UnicodeCIDFont(face))
            found[letter] = face
    return found


def _has(code: str, letter: str) -> bool:
    if ord(letter) > 0xFFFF:  # the faces are addressed by two bytes a letter
        return False
    try:
        return len(letter.encode(code)) == 2
    except UnicodeEncodeError:
        return False
