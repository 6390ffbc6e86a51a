"""The redaction of secrets that were kept before the register withheld them: declared, counted and audited.

It changes nothing but the secrets: payloads and elements of scans, stored API answers, examples of label forms and what
the trail says of them. Answers, devices and placements stay.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from django.db import transaction
from django.db.models import Model, QuerySet

from fleet.guards import lifted_for_redaction
from fleet.labels.families import family_of
from fleet.models import AuditDetail, Company, IdempotencyRecord, LabelForm, Scan
from fleet.operations.audit import record_act
from fleet.operations.captures import is_secret, without_secrets

BATCH = 500


def redact_secrets(*, apply: bool) -> Counter[str]:
    """How many rows of each table hold a secret, by the table's name; with ``apply`` they hold none afterwards.

    One transaction per batch, so that it may stop anywhere and be run again.
    """
    found: Counter[str] = Counter()
    tables = (
        (Scan.objects.exclude(payload=""), ("payload", "payload_class", "reading"), _clean_scan),
        (IdempotencyRecord.objects.exclude(body=None), ("body",), _clean_body),
        (LabelForm.objects.all(), ("examples", "counter_examples"), _clean_form),
        (AuditDetail.objects.filter(entry__act="teach_label_form"), ("before", "after"), _clean_detail),
    )
    for rows, columns, clean in tables:
        for batch in _batches(rows):
            changed = [row for row in batch if clean(row)]
            found[rows.model._meta.db_table] += len(changed)
            if apply and changed:
                _write(changed, columns)
    return found


def _batches(rows: QuerySet[Any]) -> Iterator[list[Any]]:
    last = 0
    while batch := list(rows.filter(pk__gt=last).order_by("pk")[:BATCH]):
        yield batch
        last = batch[-1].pk


def _write(rows: list[Any], columns: tuple[str, ...]) -> None:
    model: type[Model] = type(rows[0])
    with transaction.atomic():
        if model is Scan:
            with lifted_for_redaction(model._meta.db_table):
                model._default_manager.bulk_update(rows, columns)
        else:
            model._default_manager.bulk_update(rows, columns)
        for company, number in Counter(_company(row) for row in rows).items():
            about = Company.objects.get(pk=company)
            after = {"table": model._meta.db_table, "rows": number}
            record_act(act="redact_secrets", company=about, about=about, after=after)


def _company(row: Any) -> int:
    company: int = row.entry.company_id if isinstance(row, AuditDetail) else row.company_id
    return company


def _clean_scan(scan: Scan) -> bool:
    before = (scan.payload, scan.reading)
    if is_secret(scan.payload):
        scan.payload_class, scan.payload = family_of(scan.payload) or "", ""
    scan.payload = without_secrets(scan.payload, scan.symbology)
    scan.reading = clean_document(scan.reading)
    further = [code for code in scan.reading.get("further_codes", []) if not is_secret(code[0])]
    if further:
        scan.reading["further_codes"] = [[without_secrets(*code), code[1]] for code in further]
    return (scan.payload, scan.reading) != before


def _clean_body(record: IdempotencyRecord) -> bool:
    before, record.body = record.body, clean_document(record.body)
    return bool(record.body != before)


def _clean_form(form: LabelForm) -> bool:
    before = (form.examples, form.counter_examples)
    form.examples, form.counter_examples = _clean_examples(form.examples), _clean_examples(form.counter_examples)
    return (form.examples, form.counter_examples) != before


def _clean_detail(detail: AuditDetail) -> bool:
    before = (detail.before, detail.after)
    for name in ("before", "after"):
        facts = getattr(detail, name)
        cleaned = {key: _clean_examples(value) if isinstance(value, list) else value for key, value in facts.items()}
        setattr(detail, name, cleaned)
    return (detail.before, detail.after) != before


def _clean_examples(examples: list[Any]) -> list[Any]:
    return [
        {**each, "text": without_secrets(each["text"])} if isinstance(each, dict) and "text" in each
        else without_secrets(each) if isinstance(each, str)
        else each
        for each in examples
    ]  # fmt: skip


def clean_document(value: Any) -> Any:
    """A stored reading or answer whose elements hold no secret: each is judged by those beside it, too."""
    if isinstance(value, dict):
        return {name: clean_document(each) for name, each in value.items()}
    if not isinstance(value, list):
        return value
    elements = [each for each in value if isinstance(each, dict) and "identifier" in each and "value" in each]
    beside = "".join(f"{each['identifier']}:;" for each in elements)
    return [_clean_element(each, beside) if each in elements else clean_document(each) for each in value]


def _clean_element(element: dict[str, Any], beside: str) -> dict[str, Any]:
    announced = f"{beside}{element['identifier']}:"
    cleaned = without_secrets(f"{announced}{element['value']}")
    if not cleaned.startswith(announced):
        return element
    return {**element, "value": cleaned.removeprefix(announced)}
