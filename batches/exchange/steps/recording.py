"""What is kept of an import itself: who, when, of which files, and what headings stood for."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from batches.exchange.models import FILE_LENGTH_MAX, Import, ImportedSheet, SheetHeading
from batches.exchange.selectors.checking import CheckedSheets
from shopfloor.audit import audit_change, facts_of
from shopfloor.models import User


def record_import(sheets: CheckedSheets, *, by: User, at: datetime) -> Import:
    """Keep where the rows came from, and what headings were said to stand for."""
    keep_headings(sheets.headings, by=by, at=at)
    kept = Import.objects.create(by=by, at=at)
    ImportedSheet.objects.bulk_create(
        ImportedSheet(
            source=kept,
            sheet=source.sheet,
            file=source.label[:FILE_LENGTH_MAX],
            size_bytes=source.size,
            sha256=source.digest,
            rows=source.rows,
            rows_sha256=source.rows_digest,
            how=source.how,
        )
        for source in sheets.sources
    )
    return kept


def keep_headings(
    headings: Mapping[tuple[str, str], str], *, by: User, at: datetime
) -> list[SheetHeading]:
    """Let headings stand for columns from now on; what stands so already is left as it is."""
    standing = {
        (row.sheet, row.heading): row
        for row in SheetHeading.objects.filter(sheet__in={sheet for sheet, _ in headings})
    }
    kept = []
    for (sheet, heading), column in headings.items():
        row = standing.get((sheet, heading))
        if row is not None and row.column == column:
            continue
        before = None if row is None else facts_of(row)
        row = row or SheetHeading(sheet=sheet, heading=heading)
        row.column, row.kept_by, row.kept_at = column, by, at
        row.save()
        audit_change(by=by, at=at, row=row, before=before)
        kept.append(row)
    return kept
