"""What is a chart drawn on: style, fonts, axes, sheets, and how is a figure kept?"""
