"""Cells of tables that say what they are, so that a phone can show each row as a card.

Once cells are laid out as blocks a browser no longer tells a screen reader that they are a table:
the roles are written out, and each cell carries the heading of its column.
"""

from __future__ import annotations

import re
from html import escape, unescape

from markupsafe import Markup

_TABLE = re.compile(r"<table>.*?</table>", re.DOTALL)
_ROW = re.compile(r"<tr>.*?</tr>", re.DOTALL)
_CELL = re.compile(r"<(td|th)\b([^>]*)>")
_HEAD = re.compile(r"<th\b[^>]*>(.*?)</th>", re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
_SPAN = re.compile(r'rowspan="(\d+)"')
#: Columns from which on a table is too wide for a sheet of paper.
_WIDE = 8
_ROLES = {"table": "table", "thead": "rowgroup", "tbody": "rowgroup", "tr": "row"}
_PART = re.compile(r"<(table|thead|tbody|tr)>")


def label_cells(html: str) -> Markup:
    """Return a page's sections with roles and, on every cell of a table's body, its heading.

    Parameters
    ----------
    html
        Sections as laid out; cells of a first column may span rows.

    Examples
    --------
    >>> print(label_cells("<table><thead><tr><th>Q</th></tr></thead><tbody><tr><td>3</td></tr>"
    ...                   "</tbody></table>"))
    <table role="table"><thead role="rowgroup"><tr role="row"><th role="columnheader">Q</th></tr>\
</thead><tbody role="rowgroup"><tr role="row"><td role="cell" data-label="Q">3</td></tr></tbody>\
</table>
    """
    return Markup(_TABLE.sub(_labelled, str(html)))


def _labelled(table: re.Match[str]) -> str:
    head, body_tag, body = table[0].partition("<tbody>")
    heads = [unescape(_TAG.sub("", text)).strip() for text in _HEAD.findall(head)]
    rows, spanned = list[str](), 0
    for row in _ROW.findall(body):
        first = 1 if spanned else 0
        spanned = max(spanned - 1, 0)
        span = _SPAN.search(row)
        if span is not None:
            spanned = int(span[1]) - 1
        rows.append(_row(row, heads[first:]))
    between = _ROW.sub("", body)
    head = _CELL.sub(r'<\1 role="columnheader"\2>', head)
    text = f"{head}{body_tag}{''.join(rows)}{between.lstrip()}"
    text = _PART.sub(lambda part: f'<{part[1]} role="{_ROLES[part[1]]}">', text)
    wide = ' class="wide"' if len(heads) >= _WIDE else ""
    return text.replace('<table role="table">', f'<table role="table"{wide}>', 1)


def _row(row: str, heads: list[str]) -> str:
    named = iter(heads)

    def cell(found: re.Match[str]) -> str:
        label = escape(next(named, ""))
        if found[1] == "th":
            return f'<th role="rowheader"{found[2]}>'
        return f'<td role="cell" data-label="{label}"{found[2]}>'

    return _CELL.sub(cell, row)
