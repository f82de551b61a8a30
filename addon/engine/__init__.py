"""The engine: everything that is computed. numpy only, SI units throughout, no Blender.

Each module answers one question about the part; `study` runs them in order.
"""
