"""Sky visibility: the share of directions from each face that reaches open bath."""
