"""The clustered tables of the index, declared here alone: they are created, and one day replaced, never altered.

``token`` is keyed by company first, so that no scan can leave a company. ``word`` is a company's vocabulary, kept for
corrections; ``variant`` maps a word with one letter left out (and the word itself) to the word, for all companies: it
is only ever read joined with one company's vocabulary. PostgreSQL has an index over the words of the documents beside
them: where several words meet it finds in a fraction of the time of looking them up one by one.
"""

from dataclasses import dataclass

TOKENS = "fleet_searchtoken"
VOCABULARY = "fleet_searchword"
VARIANTS = "fleet_searchvariant"
TRIGRAMS = "fleet_searchword_trigram"
DOCUMENT_WORDS = "fleet_searchdocument_words"

WORDS_OF_DOCUMENT = (
    r"string_to_array(ltrim(replace(rtrim(substr(tokens, nullif(strpos(tokens, E'\nw'), 0)), E'\n'), "
    r"E'\nw', E'\n' || company_id::text || 'w'), E'\n'), E'\n')"
)
"""On PostgreSQL: the tokens of class ``w``, the last in a document, each after the number of its company."""


@dataclass(frozen=True)
class IndexTables:
    """All of them together; see :class:`fleet.guards.Declared`."""

    table: str = "fleet_searchmark"

    def names(self, vendor: str) -> tuple[str, ...]:
        """The tables, and the indexes beside them."""
        return (TOKENS, VOCABULARY, VARIANTS, TRIGRAMS) + (() if vendor == "sqlite" else (DOCUMENT_WORDS,))

    def statements(self, vendor: str) -> list[str]:
        """Create what is not there."""
        return _SQLITE if vendor == "sqlite" else _POSTGRESQL


def index_tables() -> list[IndexTables]:
    """For ``settings.DATABASE_GUARDS``."""
    return [IndexTables()]


def emptying(vendor: str) -> list[str]:
    """Statements that leave the tables without rows: for loading a fleet anew, and for tests."""
    trigrams = [TRIGRAMS] if vendor == "sqlite" else []
    return [f"DELETE FROM {table}" for table in (TOKENS, VOCABULARY, VARIANTS, *trigrams)]


_SQLITE = [
    f"CREATE TABLE IF NOT EXISTS {TOKENS} (company_id integer NOT NULL, token text NOT NULL, site_id integer NOT NULL, "
    "PRIMARY KEY (company_id, token, site_id)) WITHOUT ROWID",
    f"CREATE TABLE IF NOT EXISTS {VOCABULARY} (company_id integer NOT NULL, word text NOT NULL, "
    "PRIMARY KEY (company_id, word)) WITHOUT ROWID",
    f"CREATE TABLE IF NOT EXISTS {VARIANTS} (variant text NOT NULL, word text NOT NULL, "
    "PRIMARY KEY (variant, word)) WITHOUT ROWID",
    # Holds its own text: a contentless table leaves ghosts behind when a word is removed with a wrong old value.
    f"CREATE VIRTUAL TABLE IF NOT EXISTS {TRIGRAMS} USING fts5(word, tokenize = 'trigram', detail = 'none')",
]
_POSTGRESQL = [
    "CREATE EXTENSION IF NOT EXISTS pg_trgm",
    "CREATE EXTENSION IF NOT EXISTS btree_gin",
    f'CREATE TABLE IF NOT EXISTS {TOKENS} (company_id bigint NOT NULL, token text COLLATE "C" NOT NULL, '
    "site_id bigint NOT NULL, PRIMARY KEY (company_id, token, site_id))",
    f'CREATE TABLE IF NOT EXISTS {VOCABULARY} (company_id bigint NOT NULL, word text COLLATE "C" NOT NULL, '
    "PRIMARY KEY (company_id, word))",
    f'CREATE TABLE IF NOT EXISTS {VARIANTS} (variant text COLLATE "C" NOT NULL, word text COLLATE "C" NOT NULL, '
    "PRIMARY KEY (variant, word))",
    # The pending list of a GIN index slows every search until it is flushed.
    f"CREATE INDEX IF NOT EXISTS {TRIGRAMS} ON {VOCABULARY} USING gin (company_id, word gin_trgm_ops) "
    "WITH (fastupdate = off)",
    # Here a list of 64 KB, gone through by a search in little time, spares most updates of a site 0.2 to 0.3 ms.
    f"CREATE INDEX IF NOT EXISTS {DOCUMENT_WORDS} ON fleet_searchdocument USING gin (({WORDS_OF_DOCUMENT})) "
    "WITH (fastupdate = on, gin_pending_list_limit = 64)",
]
