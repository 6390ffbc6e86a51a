"""Words into letters: one text template a mail, from which both the text and the HTML part are made.

A template's first paragraph is the subject. A paragraph of two lines whose second is the letter's own link becomes a
button, a paragraph of ``- `` lines a list. Nothing a person entered can become either: values are put on one line.
"""

import textwrap
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import css_inline
from django.template.loader import render_to_string
from django.utils import timezone, translation

from fleet.spoken import spoken
from onboarding.mail.addresses import UsableAddress
from onboarding.mail.letter import Letter, one_line

LINE = 72


@dataclass(frozen=True)
class Facts:
    """What a letter is made of, read from rows. ``values`` is the template's context; ``link`` the one it leads to."""

    template: str
    language: str
    zone: ZoneInfo
    to: UsableAddress
    return_path: str
    message_id: str
    sender_name: str
    sender_address: str
    reply_to: str
    leave_url: str
    link: str = ""
    values: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Block:
    """One paragraph: ``kind`` is paragraph, button or list."""

    kind: str
    lines: tuple[str, ...]
    url: str = ""


def write_letter(facts: Facts, written_at: datetime) -> Letter:
    """The letter in the reader's language and zone. Raises TemplateDoesNotExist for an unknown template."""
    language = spoken(facts.language)
    with translation.override(_with_dates(language)), timezone.override(facts.zone):
        context = {name: _harmless(value) for name, value in facts.values.items()}
        context |= {"link": facts.link, "leave_url": facts.leave_url, "sender": one_line(facts.sender_name)}
        rendered = render_to_string(f"emails/{facts.template}.txt", context)
        subject, blocks = _read_blocks(rendered, facts.link)
        footer = _read_blocks("\n\n" + render_to_string("emails/footer.txt", context), facts.leave_url)[1]
        html = render_to_string(
            "emails/layout.html",
            {"language": language, "subject": subject, "blocks": blocks, "footer": footer} | context,
        )
    return Letter(
        to=facts.to,
        return_path=facts.return_path,
        message_id=facts.message_id,
        written_at=written_at,
        sender_name=facts.sender_name,
        sender_address=facts.sender_address,
        reply_to=facts.reply_to,
        language=language,
        subject=subject,
        text=_as_text(blocks) + "\n\n-- \n" + _as_text(footer) + "\n",
        html=_inliner().inline(html),
        leave_url=facts.leave_url,
    )


def _with_dates(language: str) -> str:
    """The source language is British English, with its dates."""
    return "en-gb" if language == "en" else language


def _harmless(value: Any) -> Any:
    if isinstance(value, str):
        return one_line(value, 400)
    if isinstance(value, list | tuple):
        return [_harmless(item) for item in value]
    return value


def _read_blocks(rendered: str, link: str) -> tuple[str, list[Block]]:
    paragraphs = [paragraph.strip() for paragraph in rendered.strip("\n").split("\n\n")]
    if rendered.startswith("\n"):
        return "", [_block(paragraph, link) for paragraph in paragraphs if paragraph]
    filled = [paragraph for paragraph in paragraphs if paragraph]
    return one_line(filled[0]), [_block(paragraph, link) for paragraph in filled[1:]]


def _block(paragraph: str, link: str) -> Block:
    lines = tuple(line.strip() for line in paragraph.splitlines() if line.strip())
    if link and len(lines) == 2 and lines[1] == link:
        return Block("button", (lines[0].rstrip(":"),), link)
    if all(line.startswith("- ") for line in lines):
        return Block("list", tuple(line[2:] for line in lines))
    return Block("paragraph", (" ".join(lines),))


def _as_text(blocks: list[Block]) -> str:
    return "\n\n".join(_block_text(block) for block in blocks)


def _block_text(block: Block) -> str:
    if block.kind == "button":
        return f"{block.lines[0]}:\n{block.url}"
    if block.kind == "list":
        return "\n".join(_wrapped(line, "- ", "  ") for line in block.lines)
    return _wrapped(block.lines[0], "", "")


def _wrapped(line: str, first: str, rest: str) -> str:
    return textwrap.fill(
        line, LINE, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )


@cache
def _inliner() -> css_inline.CSSInliner:
    return css_inline.CSSInliner(load_remote_stylesheets=False, keep_style_tags=False)
