"""The sentences in other languages, from catalogues of translations; English is the key of each."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType

LANGUAGES = ("en", "es", "fr")
FOLDER = "translations"


def translated(sentence: str, language: str) -> str:
    """Give a sentence or name in a language.

    Args:
        sentence: The English text, with its places if it has any.
        language: ``en``, ``es`` or ``fr``.

    Returns:
        The translation, with the same places; the English text where there is none yet.

    Example:
        >>> translated("good", "en"), translated("no such sentence", "es")
        ('good', 'no such sentence')
    """
    return sentence if language == "en" else translations(language).get(sentence, sentence)


@cache
def translations(language: str) -> Mapping[str, str]:
    """Give every translation of a language that is there and no guess.

    Args:
        language: ``es`` or ``fr``.

    Returns:
        English text to translation; empty for a language that has none.
    """
    from babel.messages.pofile import read_po

    path = resources.files(__package__).joinpath(FOLDER).joinpath(f"{language}.po")
    if language not in LANGUAGES[1:] or not path.is_file():
        return MappingProxyType({})
    with path.open("rb") as file:
        catalogue = read_po(file, locale=language)
    return MappingProxyType(
        {str(one.id): str(one.string) for one in catalogue if one.id and one.string and not one.fuzzy}
    )
