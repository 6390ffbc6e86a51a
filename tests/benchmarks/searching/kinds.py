"""The classes of questions: no Django here, so that a report can be read without it."""

CODES = ("exact", "prefix", "suffix", "look-alikes", "punctuated", "e-mail", "telephone", "code", "label")
WORDS = ("surname", "typo", "street", "words", "diacritics", "model")
BEGINNINGS = ("beginning", "letter")
CLASSES = (*CODES, *WORDS, *BEGINNINGS, "common")
LISTED = (*CODES, *WORDS)
"""One class for each way to find a site that the search promises; the others are harder forms of ``surname`` (its
first letters, and its first one) and ``words`` (two that very many sites have).
"""
UNIQUE_ENOUGH = frozenset(CLASSES) - {"model", "letter", "common", "beginning"}
"""Classes whose recall is counted: the site meant must be among the first 1,000."""
