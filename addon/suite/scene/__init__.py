"""Between Blender's objects and the engine's parts."""
