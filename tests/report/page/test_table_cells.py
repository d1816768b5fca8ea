"""Cells say which column they stand in, also where the first column spans rows."""

from __future__ import annotations

import re

from tonecompare.report.page.table_cells import label_cells

_SPANNED = """<table>
<thead><tr><th>Voice</th><th></th><th>a &amp; b</th></tr></thead>
<tbody>
<tr><th scope="rowgroup" rowspan="2">Neck</th><th scope="row">Level</th><td class="x">1</td></tr>
<tr><th scope="row">Decay</th><td>2</td></tr>
<tr><th scope="rowgroup">Bridge</th><th scope="row">Level</th><td>3</td></tr>
</tbody>
</table>"""


def test_every_cell_carries_its_heading_past_a_spanning_one():
    html = label_cells(_SPANNED)
    assert re.findall(r'data-label="([^"]*)"', html) == ["a &amp; b"] * 3
    assert html.count('role="row"') == 4
    assert html.count('role="columnheader"') == 3
    assert html.count('role="rowheader"') == 5
    assert re.findall(r">(\d)</td>", html) == ["1", "2", "3"]


def test_what_is_no_table_stays_as_it_is():
    assert label_cells("<p>2 &lt; 3</p>") == "<p>2 &lt; 3</p>"


def test_quotes_in_a_heading_stay_inside_the_attribute():
    html = label_cells(
        "<table><thead><tr><th>a &#34;b&#34;</th></tr></thead><tbody><tr><td>1</td></tr></tbody>"
        "</table>"
    )
    assert 'data-label="a &quot;b&quot;"' in html


def test_a_table_of_many_columns_is_marked_as_too_wide_for_paper():
    def table(columns):
        heads = "<th>h</th>" * columns
        cells = "<td>1</td>" * columns
        return f"<table><thead><tr>{heads}</tr></thead><tbody><tr>{cells}</tr></tbody></table>"

    assert 'class="wide"' in label_cells(table(8))
    assert 'class="wide"' not in label_cells(table(7))
