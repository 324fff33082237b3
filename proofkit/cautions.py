"""Usual cautions for what a shop's papers mention. No recipes, no advice on exposure, nothing is ever called safe.

Sources: university and workshop safety pages on intaglio (acid etching, solvents, mordants, dusts), common practice
of the trade; read for facts, worded here.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

PREVAIL = (
    "These are the usual cautions and no instructions. Local codes, the safety data sheets of the products used and "
    "licensed practice prevail over anything written here."
)


@dataclass(frozen=True, slots=True)
class Caution:
    """What is usually said where certain words are used."""

    words: str
    """Regular expression of the words, in lower case."""
    text: str


CAUTIONS = (
    Caution(
        r"\bacids?\b|nitric|hydrochloric|muriatic|mordant|\betch(ing|ed|ant)?\b|\bbit(e|es|ten|ing)\b|\bbath\b|fortis",
        "Acids and mordants: extraction, goggles and gloves; acid into water and never the reverse; know the nearest "
        "water and what to do with a splash.",
    ),
    Caution(
        r"nitric|aqua ?fortis",
        "Nitric acid gives off nitrogen dioxide, whose smell warns poorly, and concentrated it feeds fire: "
        "extraction that is known to work, away from anything that burns.",
    ),
    Caution(
        r"chlorate|dutch",
        "Chlorate with hydrochloric acid gives off chlorine, and chlorate reacts violently with organic matter, "
        "sulphur and dirt: shops that can do without it do without it; its waste never goes into a closed can.",
    ),
    Caution(
        r"ferric|iron chloride|perchloride",
        "Ferric chloride is corrosive and stains; mixing it with water gives off heat.",
    ),
    Caution(
        r"\bacids?\b|nitric|ferric|chlorate|mordant|\bbath\b|copper sul|saline",
        "Spent baths hold copper or zinc salts and are controlled waste in most places: not into the drain.",
    ),
    Caution(
        r"rosin|resin|colophony|asphalt|bitumen|aquatint|powder|dust ?box|talc|whiting|chalk",
        "Dusts: rosin and asphaltum powders burn explosively in air and rosin can cause asthma; no flames, no "
        "sparks, no dry sweeping, a mask that fits.",
    ),
    Caution(
        r"solvent|spirit|benzin|benzene|turpentin|naphtha|toluene|xylene|acetone|alcohol|thinner|kerosene|paraffin|varnish",
        "Solvents: no flames or sparks near them, ventilation, gloves; the least volatile product that does the "
        "work, vegetable oil first. Aromatic solvents are to be avoided, benzene above all; an old receipt's benzine "
        "is another thing than benzene: read the data sheet of what is in the can.",
    ),
    Caution(
        r"\boil\b|\brags\b|tarlatan|linseed|varnish|solvent|spirit|turpentin",
        "Oily rags heat by themselves: a closed metal can or water, emptied every day.",
    ),
    Caution(
        r"lead white|white lead|chromate|chrome|cadmium|vermilion|manganese|cobalt|pigment",
        "Pigments: know which they are; no dry sanding or mixing of dusts of lead, chromates, cadmium and their "
        "like, no food near.",
    ),
    Caution(
        r"\bpress(ure)?\b|\bblankets?\b",
        "Press: hands, hair and sleeves clear of the nip, guards on, one person calling the run.",
    ),
)


def cautions_for(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the cautions that the words of `texts` call for, and whose word prevails; empty where none is called for.

    >>> cautions_for(["cotton rag paper, white"])
    ()
    >>> cautions_for(["ferric chloride"])[0][:15]
    'Ferric chloride'
    """
    said = " ".join(texts).casefold().replace("_", " ")
    found = tuple(caution.text for caution in CAUTIONS if re.search(caution.words, said))
    return (*found, PREVAIL) if found else ()
