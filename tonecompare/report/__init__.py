"""From results to what people read: findings, charts, page, tables and clips.

Names load when first used; nothing here imports matplotlib until a chart is drawn.

Report
    write_report        the whole report folder, or nothing
    write_check         the page of a check
    slug                a safe file name stem for any title
Words
    find, Finding       three to six findings in plain words
Tables
    csv_text            a table as the text of its CSV file
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tonecompare.lazy import lazily

if TYPE_CHECKING:
    from tonecompare.report.check_page import write_check
    from tonecompare.report.findings import Finding, find
    from tonecompare.report.names import slug
    from tonecompare.report.tables import csv_text
    from tonecompare.report.write import write_report

_HOME = {
    "Finding": "findings",
    "csv_text": "tables",
    "find": "findings",
    "slug": "names",
    "write_check": "check_page",
    "write_report": "write",
}

__all__ = ["Finding", "csv_text", "find", "slug", "write_check", "write_report"]

__getattr__, __dir__ = lazily(__name__, _HOME)
