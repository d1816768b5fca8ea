"""What do people read? Findings, charts, page, tables and clips from results.

Names load when first used; nothing here imports matplotlib until a chart is drawn.

Report
    write_report        the whole report folder, or nothing
    write_check         the page of a check
Words
    find, Finding       the findings in plain words
    report_findings     those of a whole report, once for page, summary and terminal
Tables
    csv_text            a table as the text of its CSV file
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tonecompare.lazy import lazily

if TYPE_CHECKING:
    from tonecompare.report.files.csv_tables import csv_text
    from tonecompare.report.page.check_page import write_check
    from tonecompare.report.whole_report import write_report
    from tonecompare.report.words.finding_words.finding import Finding
    from tonecompare.report.words.findings import find
    from tonecompare.report.words.report_findings import report_findings

_HOME = {
    "Finding": "words.finding_words.finding",
    "csv_text": "files.csv_tables",
    "find": "words.findings",
    "report_findings": "words.report_findings",
    "write_check": "page.check_page",
    "write_report": "whole_report",
}

__all__ = ["Finding", "csv_text", "find", "report_findings", "write_check", "write_report"]

__getattr__, __dir__ = lazily(__name__, _HOME)
