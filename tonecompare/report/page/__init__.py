"""How is the page laid out? Results into views, views into HTML.

What other rooms use
--------------------
``build_view``: build_page
``check_page``: write_check
``layout``: page_html
"""
