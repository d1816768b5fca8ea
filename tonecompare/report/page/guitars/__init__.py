"""How are several guitars, and what work on them brought, laid out?

What other rooms use
--------------------
``guitars_section``: GuitarsSection, guitars_sections
``spread_section``: SpreadSection, spread_sections
``worth_section``: WORTH_COLUMNS, WorthSection, worth_section, worth_table
"""
