"""The settings table of DEVELOPERS.md. ``python -m tests.quality.settings_table`` writes it anew."""

from pathlib import Path

from fleet.config.environment import DECLARED, Declared

PAGE = Path(__file__).resolve().parent.parent.parent / "DEVELOPERS.md"
HEAD = "| variable | takes | default | for |\n| --- | --- | --- | --- |\n"
BEGIN, END = "<!-- settings -->\n", "<!-- end of settings -->"


def table() -> str:
    """The table as it should stand, from what settings declare."""
    return HEAD + "".join(map(_row, DECLARED.values()))


def table_in(page: str) -> str:
    """The table as it stands in a page."""
    return page.partition(BEGIN)[2].partition(END)[0]


def _row(each: Declared) -> str:
    cells = (f"`{each.name}`", each.kind, each.default or "–", each.meaning)
    return f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |\n"


if __name__ == "__main__":
    import fleet.config.settings  # noqa: F401  # reading the settings declares them

    before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    PAGE.write_text(before + BEGIN + table() + END + rest.partition(END)[2], encoding="utf-8")
