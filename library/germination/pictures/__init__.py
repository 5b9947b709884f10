"""The bench in pictures: plain numbers, drawn as SVG by templates, with their tables."""
