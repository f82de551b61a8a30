"""The part as a surface: sound or not, welded, turned outward, and what the liquid touches."""
