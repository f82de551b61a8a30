"""What is computed. numpy only, SI units throughout, nothing of Blender.

Each file answers one question about the part; `study` walks them once, forwards.
"""
