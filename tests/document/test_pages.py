"""Pages read back by other programs' readers: nothing in a text may become markup."""

import html.parser
import io
import re

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from proofkit.columns import TABLES
from proofkit.document.blocks import Document, Heading, Items, Paragraph, Picture, Table
from proofkit.document.html import to_html
from proofkit.document.latex import to_latex
from proofkit.document.markdown import to_markdown
from proofkit.document.pdf import to_pdf
from proofkit.study.package import shown

NASTY = "<b>10 % of line_load_um</b> | *dark* & $x$ \\alpha {y} #1 ~ ^ 20 µm ± 0.1 “é”"

FIXED = {"Write-up", "two", "a", "b", "1.5", "x"}
"""What stands on every page beside the drawn text, and would be counted with it."""

TEXTS = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Zl", "Zp"]), min_size=1, max_size=60
).filter(lambda text: text.strip() and text.strip() not in FIXED)


def page(text):
    return Document(
        text,
        "Write-up",
        (
            Heading(text),
            Paragraph(text),
            Items((text, "two")),
            Table(text, ("a", "b"), ((text, "1.5"), ("x", text)), frozenset({1})),
        ),
    )


class Reader(html.parser.HTMLParser):
    """Collects tags and the texts inside them, the style sheet apart."""

    def __init__(self):
        super().__init__()
        self.tags, self.texts, self._in_style = [], [], False

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self._in_style = tag == "style"

    def handle_endtag(self, tag):
        self._in_style = False

    def handle_data(self, data):
        if not self._in_style:
            self.texts.append(data)


@given(TEXTS)
def test_html_shows_texts_as_they_are(text):
    reader = Reader()
    reader.feed(to_html(page(text)))
    assert sum(shown == text for shown in reader.texts) == 8
    assert set(reader.tags) <= {
        "html", "head", "meta", "title", "style", "body", "p", "h1", "h2", "ul", "li", "div", "table", "caption",
        "thead", "tbody", "tr", "th", "td",
    }  # fmt: skip


def told(markdown):
    """Return the texts of a Markdown page and the kinds of tokens in it, as markdown-it reads it."""
    tokens = MarkdownIt("commonmark").enable("table").parse(markdown)
    inline = [child for token in tokens if token.type == "inline" for child in token.children]
    kinds = {token.type for token in tokens} | {child.type for child in inline}
    texts = ["".join(c.content for c in token.children) for token in tokens if token.type == "inline"]
    return texts, kinds


@given(TEXTS)
def test_markdown_shows_texts_as_they_are(tmp_path_factory, text):
    texts, kinds = told(to_markdown(page(text), tmp_path_factory.getbasetemp()))
    one_line = " ".join(text.split())
    assert sum(shown == one_line for shown in texts) == 7
    assert not {"link_open", "image", "code_inline", "html_inline", "html_block", "fence", "hr"} & kinds


def test_latex_has_no_sign_of_its_own_in_texts(tmp_path):
    written = to_latex(Document(NASTY, "Write-up", (Paragraph(NASTY),)), tmp_path)
    (line,) = (line for line in written.splitlines() if line.startswith(r"\textless"))
    assert line == (
        r"\textless{}b\textgreater{}10 \% of line\_load\_um\textless{}/b\textgreater{} \textbar{} *dark* \& \$x\$ "
        r"\textbackslash{}alpha \{y\} \#1 \textasciitilde{} \textasciicircum{} 20 \textmu{}m \ensuremath{\pm} 0.1 ``é''"
    )


def test_latex_sets_every_sign_that_units_meanings_and_numbers_have(tmp_path):
    # T1 fonts hold the letters of Latin-1; other signs stop LaTeX unless they are spelt as commands.
    texts = [text for table in TABLES.values() for column in table for text in (column.unit, column.meaning)]
    texts += [shown(-float("inf")), shown(float("inf")), shown(-0.5), shown(float("nan"))]
    written = to_latex(Document("t", "Write-up", tuple(map(Paragraph, texts))), tmp_path)
    assert {sign for sign in written if sign != "\n" and not sign.isprintable()} == set()
    assert {sign for sign in written if ord(sign) > 0xFF or 0x7F < ord(sign) < 0xC0} == set()


@settings(max_examples=50)
@given(TEXTS)
def test_latex_groups_always_close(tmp_path_factory, text):
    written = to_latex(page(text), tmp_path_factory.getbasetemp())
    bare = re.sub(r"\\[{}\\]", "", written)
    assert bare.count("{") == bare.count("}")
    assert written.count(r"\begin{") == written.count(r"\end{")


def test_pdf_holds_the_words_and_is_the_same_each_time():
    written = to_pdf(page("Kościół nad rzeką <b> ±"))
    assert written == to_pdf(page("Kościół nad rzeką <b> ±"))
    text = pypdf.PdfReader(io.BytesIO(written)).pages[0].extract_text()
    assert text.count("Kościół nad rzeką <b> ±") == 7


def test_a_long_table_runs_over_pages_with_its_header_on_each():
    rows = tuple((f"pull {k}", "kept as it is") for k in range(150))
    written = to_pdf(Document("t", "k", (Table("All", ("pull", "what became of it"), rows),)))
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(written)).pages]
    assert len(pages) > 1
    assert all("what became of it" in text for text in pages)
    assert "pull 149" in pages[-1]


@pytest.fixture
def drawn(tmp_path):
    """A drawing whose parts have names, beside the page."""
    (tmp_path / "figures").mkdir()
    svg = '<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"><g id="a"/><use xlink:href="#a"/></svg>'
    (tmp_path / "figures" / "bite.svg").write_text(svg, encoding="utf-8")
    return tmp_path / "figures" / "bite"


def test_pictures_are_inside_the_html_and_named_by_the_others(drawn, tmp_path):
    document = Document("t", "k", (Picture(drawn, "One"), Picture(drawn, "Two")))
    page = to_html(document)
    assert 'id="f0-a"' in page
    assert 'xlink:href="#f1-a"' in page
    assert "<?xml" not in page
    assert "![One](figures/bite.png)" in to_markdown(document, tmp_path)
    assert "{figures/bite}" in to_latex(document, tmp_path)
