"""The classes of questions: no Django here, so that a report can be read without it."""

CODES = ("exact", "prefix", "suffix", "look-alikes", "punctuated", "e-mail", "telephone", "code", "label")
WORDS = ("surname", "typo", "street", "words", "diacritics", "model")
BEGINNINGS = ("beginning", "letter")
CLASSES = (*CODES, *WORDS, *BEGINNINGS, "common")
LISTED = (*CODES, *WORDS, *BEGINNINGS)
"""The ways to find a site that the search promises; ``common`` is a harder form of ``words``: two that very many sites
have.
"""
UNIQUE_ENOUGH = frozenset(CLASSES) - {"model", "letter", "common", "beginning"}
"""Classes whose recall is counted: the site meant must be among the first 1,000."""
