"""The client's sheet: a page of pictures and words, set once and written as SVG, PDF or PNG."""
